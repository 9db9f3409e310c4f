/* subcommand.h - a sub-command of `sluice` is one row of a table and one file.
 *
 * Each is an ordinary main: words in, text out, an exit status. `main.c` holds
 * the table; `help` prints it. */
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
    const char *socket; /* where the daemon listens */
    bool colour;        /* standard output is a person's screen */
};

struct subcommand {
    const char *name;
    const char *usage;                                         /* what follows the name */
    const char *text;                                          /* what it does, in one line */
    int (*run)(struct invocation *at, int argc, char *argv[]); /* argv[0] is the name */
};

extern const struct subcommand subcommands[];
extern const size_t subcommand_count;

int bus_main(struct invocation *at, int argc, char *argv[]);
int meter_main(struct invocation *at, int argc, char *argv[]);
int check_main(struct invocation *at, int argc, char *argv[]);
int compare_main(struct invocation *at, int argc, char *argv[]);
int explain_main(struct invocation *at, int argc, char *argv[]);
int example_main(struct invocation *at, int argc, char *argv[]);
int status_main(struct invocation *at, int argc, char *argv[]);
int order_main(struct invocation *at, int argc, char *argv[]);
int holiday_main(struct invocation *at, int argc, char *argv[]);
int inhibit_main(struct invocation *at, int argc, char *argv[]);
int enable_main(struct invocation *at, int argc, char *argv[]);
int reload_main(struct invocation *at, int argc, char *argv[]);
int replay_main(struct invocation *at, int argc, char *argv[]);
int day_main(struct invocation *at, int argc, char *argv[]);
int version_main(struct invocation *at, int argc, char *argv[]);
void help_list(FILE *to);       /* all commands, a line each */
int help_one(const char *name); /* how that command is used */
int help_main(struct invocation *at, int argc, char *argv[]);

/* "sluice: text" on standard error; returns `status`, so that it can be returned. */
int complain(enum status status, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* How the sub-command `name` is used, on standard error; returns STATUS_USAGE. */
int complain_usage(const char *name);

#endif
