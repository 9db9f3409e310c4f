/* whole_file.c - a full disk must not leave half a picture in the place of a good one. */
#include "whole_file.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

enum status whole_file(const char *path, void (*write)(const void *context, FILE *to),
                       const void *context)
{
    char beside[4096];
    if (snprintf(beside, sizeof(beside), "%s.%ld", path, (long)getpid()) >= (int)sizeof(beside))
        return (enum status)complain(STATUS_USAGE, "\"%.60s...\" is too long for a file's name",
                                     path);
    FILE *file = fopen(beside, "wxe");
    if (!file)
        return (enum status)complain(STATUS_NOT_THERE, "\"%s\" cannot be written: %m", path);
    write(context, file);
    bool ok = !ferror(file);
    ok = fclose(file) == 0 && ok && rename(beside, path) == 0;
    if (ok)
        return STATUS_DONE;
    int error = errno;
    unlink(beside);
    return (enum status)complain(STATUS_NOT_THERE, "\"%s\" cannot be written: %s", path,
                                 strerror(error));
}
