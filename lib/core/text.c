/* text.c - text in the caller's buffer, and the word that was meant.
 *
 * What does not fit is cut between two characters, never inside one: a cut text
 * is still valid UTF-8 and may go to a screen or a broker. */
#include "text.h"

#include <ctype.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

struct text text_in(char *buffer, size_t size)
{
    if (size > 0)
        buffer[0] = '\0';
    return (struct text){.at = buffer, .size = size, .full = size == 0};
}

/* How much of the first `length` bytes is whole characters: an unfinished
 * sequence at the end is left off (RFC 3629 section 3: the lead byte tells how
 * many follow, continuations are 10xxxxxx). */
static size_t whole_characters(const char *bytes, size_t length)
{
    size_t lead = length;
    while (lead > 0 && length - lead < 4) {
        unsigned char byte = (unsigned char)bytes[--lead];
        if ((byte & 0xc0) == 0x80)
            continue;
        size_t needed = byte < 0xc0 ? 1 : byte < 0xe0 ? 2 : byte < 0xf0 ? 3 : 4;
        return length - lead < needed ? lead : length;
    }
    return length;
}

void text_add_list(struct text *text, const char *format, va_list arguments)
{
    if (text->full)
        return;
    size_t left = text->size - text->used;
    int length = vsnprintf(text->at + text->used, left, format, arguments);
    if (length >= 0 && (size_t)length < left) {
        text->used += (size_t)length;
        return;
    }
    text->full = true;
    if (length > 0)
        text->used += whole_characters(text->at + text->used, left - 1);
    text->at[text->used] = '\0';
}

void text_add(struct text *text, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    text_add_list(text, format, arguments);
    va_end(arguments);
}

const char *text_shorten(char buffer[static TEXT_SHORT_SIZE], const char *text)
{
    size_t length = strnlen(text, TEXT_SHORT_SIZE);
    bool cut = length == TEXT_SHORT_SIZE;
    if (cut)
        length = whole_characters(text, TEXT_SHORT_SIZE - sizeof("..."));
    for (size_t i = 0; i < length; i++)
        buffer[i] = (unsigned char)text[i] < ' ' || text[i] == 0x7f ? '?' : text[i];
    snprintf(buffer + length, TEXT_SHORT_SIZE - length, "%s", cut ? "..." : "");
    return buffer;
}

/* ---- the word that was meant ------------------------------------------------- */

enum { WORD_MAX = 48 }; /* longer ones are no key of ours */

static bool same_letter(char a, char b)
{
    return tolower((unsigned char)a) == tolower((unsigned char)b);
}

static unsigned least(unsigned a, unsigned b)
{
    return a < b ? a : b;
}

/* Edit distance with swaps of neighbours ("optimal string alignment"), three
 * rows of the table at a time. Both words at most WORD_MAX long. */
static unsigned edit_distance(const char *a, size_t a_length, const char *b, size_t b_length)
{
    uint8_t rows[3][WORD_MAX + 1];
    for (size_t j = 0; j <= b_length; j++)
        rows[0][j] = (uint8_t)j;
    for (size_t i = 1; i <= a_length; i++) {
        uint8_t *row = rows[i % 3];
        const uint8_t *above = rows[(i + 2) % 3], *above_that = rows[(i + 1) % 3];
        row[0] = (uint8_t)i;
        for (size_t j = 1; j <= b_length; j++) {
            bool same = same_letter(a[i - 1], b[j - 1]);
            unsigned cost = least(least(above[j] + 1U, row[j - 1] + 1U), above[j - 1] + !same);
            if (i > 1 && j > 1 && same_letter(a[i - 1], b[j - 2]) &&
                same_letter(a[i - 2], b[j - 1]))
                cost = least(cost, above_that[j - 2] + 1U);
            row[j] = (uint8_t)cost;
        }
    }
    return rows[a_length % 3][b_length];
}

/* A third of the letters may be wrong, and never all of them. */
const char *text_nearest(const char *word, const char *const candidates[], size_t count)
{
    const char *nearest = NULL;
    size_t word_length = strnlen(word, WORD_MAX + 1);
    unsigned allowed = (unsigned)(word_length + 2) / 3;
    if (word_length > WORD_MAX)
        return NULL;
    for (size_t i = 0; i < count; i++) {
        size_t length = strnlen(candidates[i], WORD_MAX + 1);
        if (length > WORD_MAX)
            continue;
        unsigned distance = edit_distance(word, word_length, candidates[i], length);
        if (distance > allowed || distance >= length)
            continue;
        nearest = candidates[i];
        if (distance == 0)
            break;
        allowed = distance - 1; /* of two equally near the first one stays */
    }
    return nearest;
}
