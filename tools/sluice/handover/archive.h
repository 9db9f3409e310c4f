/* archive.h - several files in one: tar, as POSIX.1-2001 describes it (pax, "ustar
 * Interchange Format"), so that a backup can be looked into and unpacked where there is no
 * sluice. Plain files with short names, and nothing else. */
#ifndef SLUICE_TOOLS_ARCHIVE_H
#define SLUICE_TOOLS_ARCHIVE_H

#include <stdint.h>
#include <stdio.h>
#include <sys/types.h>

#include "core/trouble.h"

enum { ARCHIVE_NAME_MAX = 100, ARCHIVE_OWNER_MAX = 32, ARCHIVE_PARTS_MAX = 64 };

struct part {
    char name[ARCHIVE_NAME_MAX];
    const unsigned char *bytes; /* whose they are is for the caller to know */
    size_t size;
    mode_t mode;                                            /* permissions alone */
    int64_t modified_s;                                     /* since 1970 */
    char user[ARCHIVE_OWNER_MAX], group[ARCHIVE_OWNER_MAX]; /* "": not known */
};

struct archive {
    struct part part[ARCHIVE_PARTS_MAX];
    int count;
};

void archive_write(const struct archive *archive, FILE *to);

/* The parts lie in `bytes`, which must stay. False: it is no such archive, or not a whole
 * one. */
bool archive_read(struct archive *archive, const unsigned char *bytes, size_t size,
                  struct trouble *trouble);

/* NULL: it has none of that name. */
const struct part *archive_find(const struct archive *archive, const char *name);

#endif
