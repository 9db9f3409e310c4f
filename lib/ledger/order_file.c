/* order_file.c - a new file in the old one's place: written aside, flushed, renamed, and the
 * folder flushed, or a power cut could leave neither. */
#include "ledger/order_file.h"

#include <fcntl.h>
#include <libgen.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { NAME_SIZE = 256 };

static bool write_whole(const char *name, const char *text)
{
    size_t length = strlen(text);
    int file = open(name, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0640);
    bool written = file >= 0 && write(file, text, length) == (ssize_t)length && fsync(file) == 0;
    if (file >= 0)
        written &= close(file) == 0;
    return written;
}

static bool flush_folder(const char *path)
{
    char name[NAME_SIZE];
    snprintf(name, sizeof(name), "%s", path);
    int folder = open(dirname(name), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    bool flushed = folder >= 0 && fsync(folder) == 0;
    if (folder >= 0)
        close(folder);
    return flushed;
}

bool order_file_write(const char *path, const char *text)
{
    char name[NAME_SIZE], aside[NAME_SIZE];
    snprintf(name, sizeof(name), "%s.orders", path);
    snprintf(aside, sizeof(aside), "%s.orders.new", path);
    return write_whole(aside, text) && rename(aside, name) == 0 && flush_folder(path);
}

bool order_file_read(const char *path, char text[static LEDGER_ORDERS_MAX])
{
    char name[NAME_SIZE];
    snprintf(name, sizeof(name), "%s.orders", path);
    int file = open(name, O_RDONLY | O_CLOEXEC);
    ssize_t length = file >= 0 ? read(file, text, LEDGER_ORDERS_MAX - 1) : -1;
    if (file >= 0)
        close(file);
    text[length > 0 ? length : 0] = '\0';
    return length > 0;
}
