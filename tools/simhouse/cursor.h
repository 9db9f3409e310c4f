/* cursor.h - the words of one statement, taken one after another. */
#ifndef SIMHOUSE_CURSOR_H
#define SIMHOUSE_CURSOR_H

#include <stddef.h>
#include <stdint.h>

#include "core/quantity.h"
#include "core/trouble.h"

enum { CURSOR_WORDS_MAX = 40, CURSOR_TEXT_MAX = 400 };

struct cursor {
    char text[CURSOR_TEXT_MAX];
    const char *word[CURSOR_WORDS_MAX];
    int count, next;
    struct trouble *trouble;
};

/* An option whose value is a quantity: taken as value * scale into a double. */
struct option_row {
    const char *word;
    enum quantity_kind kind;
    double scale;
    size_t offset;
};

bool cursor_split(struct cursor *cursor, const char *text, struct trouble *trouble);

bool cursor_ended(const struct cursor *cursor);
const char *cursor_peek(const struct cursor *cursor); /* "" at the end */
int cursor_column(const struct cursor *cursor);       /* where the next word begins, from 0 */
bool cursor_match(struct cursor *cursor, const char *word);
bool cursor_fail(const struct cursor *cursor, const char *expected); /* always false */

bool cursor_word(struct cursor *cursor, char *word, size_t size, const char *expected);
bool cursor_number(struct cursor *cursor, double *number, const char *expected);
bool cursor_count(struct cursor *cursor, int64_t most, int64_t *count, const char *expected);
bool cursor_quantity(struct cursor *cursor, enum quantity_kind kind, double scale, double *value);
bool cursor_time(struct cursor *cursor, int32_t *second); /* 17:00 or 17:00:30 */
bool cursor_span(struct cursor *cursor, const char *between, int32_t *from_s, int32_t *to_s);
bool cursor_phases(struct cursor *cursor, uint8_t *phases); /* L1 or L1,L2,L3 */
bool cursor_choice(struct cursor *cursor, const char *const words[], int count, int *choice,
                   const char *expected);

/* Takes the next word and its value if it is one of the rows.
 */
enum option_outcome { OPTION_UNKNOWN, OPTION_TAKEN, OPTION_WRONG };
enum option_outcome cursor_option(struct cursor *cursor, const struct option_row rows[], int count,
                                  void *into);

#endif
