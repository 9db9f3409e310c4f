/* whole_file.h - files that appear whole or not at all. */
#ifndef SLUICE_TOOLS_WHOLE_FILE_H
#define SLUICE_TOOLS_WHOLE_FILE_H

#include <stdio.h>

#include "subcommand.h"

/* Has `write` fill a file beside `path`, which then takes its place. Complains where that
 * fails. */
enum status whole_file(const char *path, void (*write)(const void *context, FILE *to),
                       const void *context);

#endif
