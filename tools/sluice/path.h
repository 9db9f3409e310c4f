/* path.h - names of files and folders. */
#ifndef SLUICE_TOOLS_PATH_H
#define SLUICE_TOOLS_PATH_H

#include <stdbool.h>
#include <stddef.h>

/* The folder that a path is in; "." where it names none. False: it does not fit, and is cut. */
bool path_folder(const char *path, char *folder, size_t size);

#endif
