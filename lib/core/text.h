/* text.h - building text in a buffer that the caller owns.
 *
 * Never writes past the end, always leaves a terminated string, cut between two
 * characters; `full` tells that something did not fit, and nothing follows then. Allocates nothing.
 */
#ifndef SLUICE_CORE_TEXT_H
#define SLUICE_CORE_TEXT_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>

struct text {
    char *at;
    size_t size, used;
    bool full;
};

struct text text_in(char *buffer, size_t size);
void text_add(struct text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

void text_add_list(struct text *text, const char *format, va_list arguments)
    __attribute__((format(printf, 2, 0)));

enum { TEXT_SHORT_SIZE = 64 };

/* What somebody wrote, fit to be quoted in a message: shortened with "..."
 * between two characters, control characters as "?". Returns `buffer`. */
const char *text_shorten(char buffer[static TEXT_SHORT_SIZE], const char *text);

/* The candidate nearest to `word` by edit distance (insert, delete, replace,
 * swap of neighbours), or NULL where none is near enough to be meant. */
const char *text_nearest(const char *word, const char *const candidates[], size_t count);

#endif
