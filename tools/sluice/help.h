/* help.h - how the command, or one of its commands, is used. */
#ifndef SLUICE_TOOLS_HELP_H
#define SLUICE_TOOLS_HELP_H

#include "subcommand.h"

void help_all(const struct invocation *at);
void help_list(const struct invocation *at, FILE *to); /* a line each */
enum status help_one(const struct invocation *at, const char *name);

#endif
