/* text.h - building text in a buffer that the caller owns.
 *
 * Never writes past the end, always leaves a terminated string; `full` tells
 * that something did not fit. Allocates nothing. */
#ifndef SLUICE_CORE_TEXT_H
#define SLUICE_CORE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

struct text {
    char *at;
    size_t size, used;
    bool full;
};

struct text text_in(char *buffer, size_t size);
void text_add(struct text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The candidate nearest to `word` by edit distance (insert, delete, replace,
 * swap of neighbours), or NULL where none is near enough to be meant. */
const char *text_nearest(const char *word, const char *const candidates[], size_t count);

#endif
