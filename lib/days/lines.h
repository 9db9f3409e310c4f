/* lines.h - the lines of a file of any length, one after another, in little memory. */
#ifndef SLUICE_DAYS_LINES_H
#define SLUICE_DAYS_LINES_H

#include <stdbool.h>
#include <stddef.h>

enum { DAYS_LINE_MAX = 8192 };

struct days_lines {
    int file;
    char *buffer;
    size_t begin, end; /* what is in the buffer and not yet told */
    size_t number;     /* of the line told last, from 1 */
    size_t after_mark; /* where the first line begins */
    bool looking;      /* only within the first block, which stays as it is */
    bool all_read;
    int error; /* an errno, or 0 */
};

enum days_line {
    DAYS_LINE,
    DAYS_LINES_END,     /* or the end of the first block, where one only looks */
    DAYS_LINE_TOO_LONG, /* the last line that there is */
    DAYS_LINE_NOT_TEXT, /* a NUL byte in it: UTF-16, or no text at all */
};

/* Opens for looking: the first lines may be read, and then read again. False: errno. */
bool days_lines_open(struct days_lines *lines, const char *path);
/* Ends the looking: line 1 comes next. */
void days_lines_again(struct days_lines *lines);
/* Neither CR LF nor LF is part of the line, and no NUL ends it. */
enum days_line days_lines_next(struct days_lines *lines, const char **line, size_t *length);
void days_lines_close(struct days_lines *lines);

#endif
