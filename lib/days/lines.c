/* lines.c - lines out of blocks.
 *
 * A year of seconds is a gigabyte of text, so the file passes through one block of
 * memory; a line that begins near its end is moved to its front and completed. What the
 * columns are must be known before the first row is read, so the first block can be
 * looked at and then read again: that works for pipes too, where seeking would not. */
#include "days/lines.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { BLOCK_SIZE = 256 * 1024 };

static void fill(struct days_lines *lines)
{
    while (!lines->all_read && lines->end < BLOCK_SIZE) {
        ssize_t got = read(lines->file, lines->buffer + lines->end, BLOCK_SIZE - lines->end);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            lines->error = errno;
        if (got <= 0)
            lines->all_read = true;
        else
            lines->end += (size_t)got;
    }
}

bool days_lines_open(struct days_lines *lines, const char *path)
{
    *lines = (struct days_lines){.file = open(path, O_RDONLY | O_CLOEXEC), .looking = true};
    if (lines->file < 0)
        return false;
    lines->buffer = malloc(BLOCK_SIZE);
    if (!lines->buffer) {
        close(lines->file);
        errno = ENOMEM;
        return false;
    }
    fill(lines);
    if (lines->end >= 3 && memcmp(lines->buffer, "\xef\xbb\xbf", 3) == 0) /* UTF-8's mark */
        lines->after_mark = 3;
    lines->begin = lines->after_mark;
    if (!lines->error)
        return true;
    errno = lines->error;
    days_lines_close(lines);
    return false;
}

void days_lines_again(struct days_lines *lines)
{
    lines->looking = false;
    lines->begin = lines->after_mark;
    lines->number = 0;
}

static char *end_of_line(struct days_lines *lines)
{
    return memchr(lines->buffer + lines->begin, '\n', lines->end - lines->begin);
}

static void refill(struct days_lines *lines)
{
    memmove(lines->buffer, lines->buffer + lines->begin, lines->end - lines->begin);
    lines->end -= lines->begin;
    lines->begin = 0;
    fill(lines);
}

enum days_line days_lines_next(struct days_lines *lines, const char **line, size_t *length)
{
    char *end = end_of_line(lines);
    if (!end && !lines->all_read && !lines->looking) {
        refill(lines);
        end = end_of_line(lines);
    }
    size_t left = lines->end - lines->begin;
    if (!end && (left == 0 || (left <= DAYS_LINE_MAX && lines->looking && !lines->all_read)))
        return DAYS_LINES_END;
    *line = lines->buffer + lines->begin;
    *length = end ? (size_t)(end - *line) : left;
    lines->begin += *length + (end ? 1 : 0);
    lines->number++;
    if (*length > 0 && (*line)[*length - 1] == '\r')
        --*length;
    if (memchr(*line, '\0', *length > DAYS_LINE_MAX ? DAYS_LINE_MAX : *length))
        return DAYS_LINE_NOT_TEXT;
    return *length > DAYS_LINE_MAX ? DAYS_LINE_TOO_LONG : DAYS_LINE;
}

void days_lines_close(struct days_lines *lines)
{
    close(lines->file);
    free(lines->buffer);
    lines->buffer = NULL;
}
