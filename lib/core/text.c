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

size_t text_character(const char *bytes, size_t left)
{
    const unsigned char *at = (const unsigned char *)bytes;
    static const struct {
        unsigned char least, greatest, second_least, second_greatest;
        size_t length;
    } forms[] = {
        {0x00, 0x7f, 0, 0, 1},       {0xc2, 0xdf, 0x80, 0xbf, 2}, {0xe0, 0xe0, 0xa0, 0xbf, 3},
        {0xe1, 0xec, 0x80, 0xbf, 3}, {0xed, 0xed, 0x80, 0x9f, 3}, {0xee, 0xef, 0x80, 0xbf, 3},
        {0xf0, 0xf0, 0x90, 0xbf, 4}, {0xf1, 0xf3, 0x80, 0xbf, 4}, {0xf4, 0xf4, 0x80, 0x8f, 4},
    };
    for (size_t k = 0; k < sizeof(forms) / sizeof(forms[0]); k++) {
        if (at[0] < forms[k].least || at[0] > forms[k].greatest)
            continue;
        if (forms[k].length > left)
            return 0;
        if (forms[k].length > 1 &&
            (at[1] < forms[k].second_least || at[1] > forms[k].second_greatest))
            return 0;
        for (size_t i = 2; i < forms[k].length; i++)
            if ((at[i] & 0xc0) != 0x80)
                return 0;
        return forms[k].length;
    }
    return 0;
}

bool text_is_control(const char *at)
{
    unsigned char first = (unsigned char)at[0];
    return first < ' ' || first == 0x7f || (first == 0xc2 && (unsigned char)at[1] < 0xa0);
}

void text_add_foreign(struct text *text, const char *bytes, size_t length)
{
    for (size_t at = 0, step; at<length; at += step> 0 ? step : 1) {
        step = text_character(bytes + at, length - at);
        bool shown = step > 0 && !text_is_control(bytes + at);
        text_add(text, "%.*s", shown ? (int)step : 1, shown ? bytes + at : "?");
    }
}

const char *text_shorten(char buffer[static TEXT_SHORT_SIZE], const char *text)
{
    size_t length = strnlen(text, TEXT_SHORT_SIZE);
    bool cut = length == TEXT_SHORT_SIZE;
    if (cut)
        length = whole_characters(text, TEXT_SHORT_SIZE - sizeof("..."));
    struct text shown = text_in(buffer, TEXT_SHORT_SIZE);
    text_add_foreign(&shown, text, length);
    text_add(&shown, "%s", cut ? "..." : "");
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
