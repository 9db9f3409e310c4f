/* archive.c - blocks of 512 bytes: a header and the file's bytes for each part, and two of
 * zeros at the end. A reader that takes only what the writer writes is a page; a library that
 * reads every archive there ever was is more than a backup of six small files needs, and a
 * surface that a file from elsewhere could reach. */
#include "archive.h"

#include <inttypes.h>
#include <stddef.h>
#include <string.h>

#include "core/text.h"

enum { BLOCK = 512, END_BLOCKS = 2, SIZE_DIGITS = 11 };

/* POSIX.1-2001, pax, "ustar Interchange Format": numbers are octal digits. */
struct header {
    char name[100], mode[8], uid[8], gid[8], size[12], mtime[12], chksum[8], typeflag,
        linkname[100], magic[6], version[2], uname[32], gname[32], devmajor[8], devminor[8],
        prefix[155], pad[12];
};
_Static_assert(sizeof(struct header) == BLOCK, "a header is a block");

/* The sum of all bytes, those of the sum itself taken as blanks. */
static unsigned sum_of(const struct header *header)
{
    const unsigned char *bytes = (const unsigned char *)header;
    unsigned sum = 0;
    for (size_t k = 0; k < BLOCK; k++) {
        bool own = k >= offsetof(struct header, chksum) && k < offsetof(struct header, typeflag);
        sum += own ? ' ' : bytes[k];
    }
    return sum;
}

/* ---- writing ------------------------------------------------------------------------------ */

static void copy(char *field, size_t size, const char *text)
{
    memcpy(field, text, strnlen(text, size));
}

static void write_header(const struct part *part, FILE *to)
{
    struct header header = {.typeflag = '0', .magic = "ustar", .version = {'0', '0'}};
    char digits[24];
    copy(header.name, sizeof(header.name), part->name);
    snprintf(header.mode, sizeof(header.mode), "%07o", (unsigned)(part->mode & 0777));
    copy(header.uid, sizeof(header.uid), "0000000");
    copy(header.gid, sizeof(header.gid), "0000000");
    snprintf(digits, sizeof(digits), "%0*" PRIo64, SIZE_DIGITS, (uint64_t)part->size);
    copy(header.size, sizeof(header.size), digits);
    snprintf(digits, sizeof(digits), "%0*" PRIo64, SIZE_DIGITS,
             (uint64_t)(part->modified_s > 0 ? part->modified_s : 0));
    copy(header.mtime, sizeof(header.mtime), digits);
    copy(header.uname, sizeof(header.uname), part->user);
    copy(header.gname, sizeof(header.gname), part->group);
    copy(header.devmajor, sizeof(header.devmajor), "0000000");
    copy(header.devminor, sizeof(header.devminor), "0000000");
    snprintf(digits, sizeof(digits), "%06o", sum_of(&header));
    memcpy(header.chksum, digits, 7);
    header.chksum[7] = ' ';
    fwrite(&header, sizeof(header), 1, to);
}

static void write_zeros(size_t count, FILE *to)
{
    for (; count > 0; count--)
        fputc(0, to);
}

void archive_write(const struct archive *archive, FILE *to)
{
    for (int k = 0; k < archive->count; k++) {
        const struct part *part = &archive->part[k];
        write_header(part, to);
        fwrite(part->bytes, 1, part->size, to);
        write_zeros((BLOCK - part->size % BLOCK) % BLOCK, to);
    }
    write_zeros((size_t)END_BLOCKS * BLOCK, to);
}

/* ---- reading ------------------------------------------------------------------------------ */

static bool read_octal(const char *field, size_t size, uint64_t *value)
{
    size_t k = 0;
    for (*value = 0; k < size && field[k] >= '0' && field[k] <= '7'; k++)
        *value = *value << 3 | (uint64_t)(field[k] - '0');
    return k > 0 && k <= SIZE_DIGITS && (k == size || field[k] == '\0' || field[k] == ' ');
}

static bool is_zero(const unsigned char *bytes, size_t size)
{
    for (size_t k = 0; k < size; k++)
        if (bytes[k] != 0)
            return false;
    return true;
}

static bool read_owner(char to[static ARCHIVE_OWNER_MAX], const char field[static 32])
{
    memcpy(to, field, ARCHIVE_OWNER_MAX);
    return memchr(field, '\0', ARCHIVE_OWNER_MAX) != NULL;
}

static bool read_header(const struct header *header, struct part *part)
{
    uint64_t sum, mode, size, modified;
    bool ok = read_octal(header->chksum, sizeof(header->chksum), &sum) && sum == sum_of(header) &&
              memcmp(header->magic, "ustar", sizeof(header->magic)) == 0 &&
              header->typeflag == '0' && header->name[0] && header->prefix[0] == '\0' &&
              memchr(header->name, '\0', sizeof(header->name)) &&
              read_octal(header->mode, sizeof(header->mode), &mode) &&
              read_octal(header->size, sizeof(header->size), &size) &&
              read_octal(header->mtime, sizeof(header->mtime), &modified) &&
              read_owner(part->user, header->uname) && read_owner(part->group, header->gname);
    if (!ok)
        return false;
    memcpy(part->name, header->name, sizeof(header->name));
    part->mode = (mode_t)(mode & 0777);
    part->size = size;
    part->modified_s = (int64_t)modified;
    return true;
}

static bool fail_cut(struct trouble *trouble, size_t size)
{
    return trouble_set(trouble, "", "it is cut off after %zu bytes", size);
}

/* Takes the part at `*at`, and moves on behind it. */
static bool read_part(struct archive *archive, const unsigned char *bytes, size_t size, size_t *at,
                      struct trouble *trouble)
{
    struct header header;
    struct part part;
    char shown[TEXT_SHORT_SIZE];
    memcpy(&header, bytes + *at, sizeof(header));
    if (!read_header(&header, &part))
        return trouble_set(trouble, "", "it is not an archive of plain files (byte %zu)", *at);
    *at += BLOCK;
    if (part.size > size - *at)
        return fail_cut(trouble, size);
    size_t padded = part.size + (BLOCK - part.size % BLOCK) % BLOCK;
    if (padded > size - *at)
        return fail_cut(trouble, size);
    if (archive->count == ARCHIVE_PARTS_MAX || archive_find(archive, part.name))
        return trouble_set(trouble, "", "\"%s\" is one file too many",
                           text_shorten(shown, part.name));
    part.bytes = bytes + *at;
    if (!is_zero(part.bytes + part.size, padded - part.size))
        return trouble_set(trouble, "", "what follows \"%s\" is not empty",
                           text_shorten(shown, part.name));
    archive->part[archive->count++] = part;
    *at += padded;
    return true;
}

bool archive_read(struct archive *archive, const unsigned char *bytes, size_t size,
                  struct trouble *trouble)
{
    size_t at = 0;
    archive->count = 0;
    while (size - at >= BLOCK && !is_zero(bytes + at, BLOCK))
        if (!read_part(archive, bytes, size, &at, trouble))
            return false;
    if (archive->count == 0 && at < size && size - at < BLOCK && !is_zero(bytes, size))
        return trouble_set(trouble, "", "it is not an archive");
    if (size - at < (size_t)END_BLOCKS * BLOCK)
        return fail_cut(trouble, size);
    if (!is_zero(bytes + at, size - at))
        return trouble_set(trouble, "", "something follows its end (byte %zu)", at);
    return true;
}

const struct part *archive_find(const struct archive *archive, const char *name)
{
    for (int k = 0; k < archive->count; k++)
        if (strcmp(archive->part[k].name, name) == 0)
            return &archive->part[k];
    return NULL;
}
