/* subcommand.h - a sub-command of `sluice` is one row of a table and one file.
 *
 * Each is an ordinary main: words in, text out, an exit status. `main.c` holds the table,
 * which everything else is handed; `help` prints it. */
#ifndef SLUICE_TOOLS_SUBCOMMAND_H
#define SLUICE_TOOLS_SUBCOMMAND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum status {
    STATUS_DONE = 0,
    STATUS_REFUSED = 1,   /* understood, and the answer is no: `help` lists what that means */
    STATUS_USAGE = 2,     /* the words on the command line */
    STATUS_NOT_THERE = 3, /* the daemon, or a file that should be read or written */
};

struct invocation {
    const char *socket;                /* where the daemon listens */
    bool colour;                       /* standard output is a person's screen */
    const struct subcommand *commands; /* all there are, ended by one without a name */
};

struct subcommand {
    const char *name;
    const char *usage; /* what follows the name */
    const char *text;  /* what it does, in one line */
    enum status (*run)(struct invocation *at, int argc, char *argv[]); /* argv[0] is the name */
    const char *more; /* what its help says beyond that; NULL: nothing */
};

enum status bus_main(struct invocation *at, int argc, char *argv[]);
enum status meter_main(struct invocation *at, int argc, char *argv[]);
enum status check_main(struct invocation *at, int argc, char *argv[]);
enum status commission_main(struct invocation *at, int argc, char *argv[]);
enum status compare_main(struct invocation *at, int argc, char *argv[]);
enum status data_main(struct invocation *at, int argc, char *argv[]);
enum status explain_main(struct invocation *at, int argc, char *argv[]);
enum status example_main(struct invocation *at, int argc, char *argv[]);
enum status handover_main(struct invocation *at, int argc, char *argv[]);
enum status backup_main(struct invocation *at, int argc, char *argv[]);
enum status restore_main(struct invocation *at, int argc, char *argv[]);
enum status test_main(struct invocation *at, int argc, char *argv[]);
enum status topics_main(struct invocation *at, int argc, char *argv[]);
enum status faults_main(struct invocation *at, int argc, char *argv[]);
enum status status_main(struct invocation *at, int argc, char *argv[]);
enum status order_main(struct invocation *at, int argc, char *argv[]);
enum status watch_main(struct invocation *at, int argc, char *argv[]);
enum status set_main(struct invocation *at, int argc, char *argv[]);
enum status undo_main(struct invocation *at, int argc, char *argv[]);
enum status diff_main(struct invocation *at, int argc, char *argv[]);
enum status history_main(struct invocation *at, int argc, char *argv[]);
enum status holiday_main(struct invocation *at, int argc, char *argv[]);
enum status inhibit_main(struct invocation *at, int argc, char *argv[]);
enum status enable_main(struct invocation *at, int argc, char *argv[]);
enum status exchange_main(struct invocation *at, int argc, char *argv[]);
enum status reload_main(struct invocation *at, int argc, char *argv[]);
enum status replay_main(struct invocation *at, int argc, char *argv[]);
enum status day_main(struct invocation *at, int argc, char *argv[]);

const struct subcommand *subcommand_find(const struct invocation *at, const char *name);

/* "sluice: text" on standard error; returns `status`, so that it can be returned. */
enum status complain(enum status status, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* How the sub-command `name` is used, on standard error; returns STATUS_USAGE. */
enum status complain_usage(const struct invocation *at, const char *name);

/* There is no command of that name; the nearest is named. */
enum status complain_unknown_command(const struct invocation *at, const char *name);

#endif
