/* options.h - options and words of a sub-command, in any order.
 *
 * getopt_long's own messages don't say what was expected or what is nearest, so
 * options are rows here too. */
#ifndef SLUICE_TOOLS_OPTIONS_H
#define SLUICE_TOOLS_OPTIONS_H

#include "subcommand.h"

struct option_row {
    const char *name;   /* "--svg"; NULL ends the rows */
    const char **value; /* takes a value, stored here; or NULL, and then: */
    bool *flag;
    const char *expected; /* of a value: "a file" */
};

/* Sorts argv[1..] of a sub-command: options into their places, words to
 * argv[1..count]. --socket and --help are known to all. Returns the number of
 * words; or less than 0 when all is said, and then options_status has the status. */
int options_read(struct invocation *at, const struct option_row rows[], int argc, char *argv[]);
enum status options_status(int words);

/* --socket, --help and --version before the sub-command: the index of the
 * sub-command, which may be argc; or -1 after having complained. */
int options_before_command(struct invocation *at, int argc, char *argv[]);

#endif
