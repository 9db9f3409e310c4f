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

/* Length of the character at `at`, 0 where it is not well-formed UTF-8 (RFC 3629: no
 * overlong forms, no surrogates, nothing above U+10FFFF). */
size_t text_character(const char *at, size_t left);

/* Whether the well-formed character at `at` steers a terminal rather than being shown:
 * C0, DEL, C1 (ECMA-48). */
bool text_is_control(const char *at);

/* What comes from elsewhere, fit for a terminal: "?" for each control character and each
 * byte that is no UTF-8. */
void text_add_foreign(struct text *text, const char *bytes, size_t length);

enum { TEXT_SHORT_SIZE = 64 };

/* What somebody wrote, fit to be quoted in a message: shortened with "..."
 * between two characters, and foreign as above. Returns `buffer`. */
const char *text_shorten(char buffer[static TEXT_SHORT_SIZE], const char *text);

/* The candidate nearest to `word` by edit distance (insert, delete, replace,
 * swap of neighbours), or NULL where none is near enough to be meant. */
const char *text_nearest(const char *word, const char *const candidates[], size_t count);

#endif
