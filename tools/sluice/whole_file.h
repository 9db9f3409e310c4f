/* whole_file.h - files that appear whole or not at all. */
#ifndef SLUICE_TOOLS_WHOLE_FILE_H
#define SLUICE_TOOLS_WHOLE_FILE_H

#include <stdio.h>

#include "subcommand.h"

/* Has `write` fill a file beside `path`, which then takes its place. Complains where that
 * fails. */
enum status whole_file(const char *path, void (*write)(const void *context, FILE *to),
                       const void *context);

/* Has the disk know of a name that was just given in the folder of `path`. */
void whole_file_flush_folder(const char *path);

/* Complains where that would fail, before long work is done for it; NULL: there is none. */
enum status whole_file_may(const char *path);

#endif
