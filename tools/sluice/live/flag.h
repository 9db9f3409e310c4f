/* flag.h - sub-commands that say yes or no to one load. */
#ifndef SLUICE_TOOLS_FLAG_H
#define SLUICE_TOOLS_FLAG_H

#include "sluice/subcommand.h"

/* "sluice NAME LOAD" -> "VERB LOAD yes|no". `what` says what may stand for LOAD. */
enum status flag_main(struct invocation *at, int argc, char *argv[], const char *verb, bool yes,
                      const char *what);

#endif
