/* whole_file.c - a full disk must not leave half a picture in the place of a good one. */
#include "whole_file.h"

#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { BESIDE_MAX = 4096 };

static enum status name_beside(const char *path, char beside[static BESIDE_MAX])
{
    if (snprintf(beside, BESIDE_MAX, "%s.%ld", path, (long)getpid()) < BESIDE_MAX)
        return STATUS_DONE;
    return complain(STATUS_USAGE, "\"%.60s...\" is too long for a file's name", path);
}

enum status whole_file_may(const char *path)
{
    char beside[BESIDE_MAX];
    struct stat there;
    if (!path)
        return STATUS_DONE;
    enum status status = name_beside(path, beside);
    if (status != STATUS_DONE)
        return status;
    FILE *file = fopen(beside, "wxe");
    bool folder = file && stat(path, &there) == 0 && S_ISDIR(there.st_mode);
    if (file) {
        fclose(file);
        unlink(beside);
    }
    errno = folder ? EISDIR : errno;
    if (file && !folder)
        return STATUS_DONE;
    return complain(STATUS_NOT_THERE, "\"%s\" cannot be written: %m", path);
}

/* The new name is on the disk too: a stick may be pulled, or the power go, the moment after. A
 * file system that cannot be asked for it is not a reason to call the file not written. */
void whole_file_flush_folder(const char *path)
{
    char copy[BESIDE_MAX];
    snprintf(copy, sizeof(copy), "%s", path);
    int folder = open(dirname(copy), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (folder < 0)
        return;
    fsync(folder);
    close(folder);
}

enum status whole_file(const char *path, void (*write)(const void *context, FILE *to),
                       const void *context)
{
    char beside[BESIDE_MAX];
    enum status status = name_beside(path, beside);
    if (status != STATUS_DONE)
        return status;
    FILE *file = fopen(beside, "wxe");
    if (!file)
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be written: %m", path);
    write(context, file);
    bool ok = fflush(file) == 0 && !ferror(file) && fsync(fileno(file)) == 0;
    ok = fclose(file) == 0 && ok && rename(beside, path) == 0;
    if (ok) {
        whole_file_flush_folder(path);
        return STATUS_DONE;
    }
    int error = errno;
    unlink(beside);
    return complain(STATUS_NOT_THERE, "\"%s\" cannot be written: %s", path, strerror(error));
}
