/* A statement is words; a quantity is one to four of them ("6.6 kW", "2 h 30
 * min"), the longest run that makes sense. What was expected where is said by
 * whoever asks, so that an error names both. */
#include "cursor.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool cursor_split(struct cursor *cursor, const char *text, struct trouble *trouble)
{
    *cursor = (struct cursor){.trouble = trouble};
    if (strlen(text) >= sizeof(cursor->text))
        return trouble_set(trouble, "", "the line is longer than %d characters",
                           CURSOR_TEXT_MAX - 1);
    snprintf(cursor->text, sizeof(cursor->text), "%s", text);
    char *rest = NULL;
    for (char *w = strtok_r(cursor->text, " \t\r\n", &rest); w;
         w = strtok_r(NULL, " \t\r\n", &rest)) {
        if (cursor->count == CURSOR_WORDS_MAX)
            return trouble_set(trouble, "", "more than %d words in one statement",
                               CURSOR_WORDS_MAX);
        cursor->word[cursor->count++] = w;
    }
    return true;
}

bool cursor_ended(const struct cursor *cursor)
{
    return cursor->next == cursor->count;
}

int cursor_column(const struct cursor *cursor)
{
    if (!cursor_ended(cursor))
        return (int)(cursor->word[cursor->next] - cursor->text);
    if (cursor->count == 0)
        return 0;
    const char *last = cursor->word[cursor->count - 1];
    return (int)(last + strlen(last) - cursor->text);
}

const char *cursor_peek(const struct cursor *cursor)
{
    return cursor_ended(cursor) ? "" : cursor->word[cursor->next];
}

bool cursor_match(struct cursor *cursor, const char *word)
{
    if (strcmp(cursor_peek(cursor), word) != 0)
        return false;
    cursor->next++;
    return true;
}

bool cursor_fail(const struct cursor *cursor, const char *expected)
{
    if (cursor_ended(cursor))
        return trouble_set(cursor->trouble, "", "the statement ends where %s is expected",
                           expected);
    return trouble_set(cursor->trouble, "", "\"%s\" where %s is expected", cursor_peek(cursor),
                       expected);
}

bool cursor_word(struct cursor *cursor, char *word, size_t size, const char *expected)
{
    if (cursor_ended(cursor) || strlen(cursor_peek(cursor)) >= size)
        return cursor_fail(cursor, expected);
    snprintf(word, size, "%s", cursor->word[cursor->next++]);
    return true;
}

bool cursor_number(struct cursor *cursor, double *number, const char *expected)
{
    char *end;
    const char *word = cursor_peek(cursor);
    *number = strtod(word, &end);
    if (end == word || *end != '\0')
        return cursor_fail(cursor, expected);
    cursor->next++;
    return true;
}

bool cursor_count(struct cursor *cursor, int64_t most, int64_t *count, const char *expected)
{
    double number;
    int at = cursor->next;
    if (!cursor_number(cursor, &number, expected))
        return false;
    *count = (int64_t)number;
    if (number >= 0 && number <= (double)most && (double)*count == number)
        return true;
    cursor->next = at;
    return cursor_fail(cursor, expected);
}

bool cursor_quantity(struct cursor *cursor, enum quantity_kind kind, double scale, double *value)
{
    for (int words = 4; words > 0; words--) {
        if (cursor->next + words > cursor->count)
            continue;
        char joined[CURSOR_TEXT_MAX] = "";
        struct text text = text_in(joined, sizeof(joined));
        for (int i = 0; i < words; i++)
            text_add(&text, "%s%s", i ? " " : "", cursor->word[cursor->next + i]);
        int64_t whole;
        struct trouble ignored;
        if (!quantity_parse(kind, joined, &whole, &ignored))
            continue;
        *value = (double)whole * scale;
        cursor->next += words;
        return true;
    }
    return cursor_fail(cursor, quantity_expected(kind));
}

static bool time_parse(const char *text, int32_t *second)
{
    int h, m, s = 0, used = 0;
    if (sscanf(text, "%2d:%2d%n", &h, &m, &used) != 2)
        return false;
    if (text[used] == ':') {
        int more = 0;
        if (sscanf(text + used, ":%2d%n", &s, &more) != 1)
            return false;
        used += more;
    }
    *second = h * 3600 + m * 60 + s;
    return text[used] == '\0' && h >= 0 && m >= 0 && m < 60 && s >= 0 && s < 60 && *second <= 86400;
}

bool cursor_time(struct cursor *cursor, int32_t *second)
{
    if (!time_parse(cursor_peek(cursor), second))
        return cursor_fail(cursor, "a time of day, such as 17:00");
    cursor->next++;
    return true;
}

bool cursor_span(struct cursor *cursor, const char *between, int32_t *from_s, int32_t *to_s)
{
    const char *word = cursor_peek(cursor);
    const char *expected = strcmp(between, "-") == 0 ? "a span of times, such as 22:00-06:00"
                                                     : "a span of times, such as 06:00..09:30";
    const char *middle = strstr(word, between);
    char from[16];
    if (!middle || middle - word >= (ptrdiff_t)sizeof(from))
        return cursor_fail(cursor, expected);
    snprintf(from, sizeof(from), "%.*s", (int)(middle - word), word);
    if (!time_parse(from, from_s) || !time_parse(middle + strlen(between), to_s))
        return cursor_fail(cursor, expected);
    cursor->next++;
    return true;
}

bool cursor_phases(struct cursor *cursor, uint8_t *phases)
{
    const char *at = cursor_peek(cursor);
    *phases = 0;
    while (at[0] == 'L' && at[1] >= '1' && at[1] <= '3') {
        *phases = (uint8_t)(*phases | 1 << (at[1] - '1'));
        at += 2;
        if (*at != ',')
            break;
        at++;
    }
    if (*phases == 0 || *at != '\0')
        return cursor_fail(cursor, "phases, such as L1 or L1,L2,L3");
    cursor->next++;
    return true;
}

bool cursor_choice(struct cursor *cursor, const char *const words[], int count, int *choice,
                   const char *expected)
{
    for (int i = 0; i < count; i++) {
        if (words[i] && cursor_match(cursor, words[i])) {
            *choice = i;
            return true;
        }
    }
    return cursor_fail(cursor, expected);
}

enum option_outcome cursor_option(struct cursor *cursor, const struct option_row rows[], int count,
                                  void *into)
{
    for (int i = 0; i < count; i++) {
        if (!cursor_match(cursor, rows[i].word))
            continue;
        double value;
        if (!cursor_quantity(cursor, rows[i].kind, rows[i].scale, &value))
            return OPTION_WRONG;
        *(double *)((char *)into + rows[i].offset) = value;
        return OPTION_TAKEN;
    }
    return OPTION_UNKNOWN;
}
