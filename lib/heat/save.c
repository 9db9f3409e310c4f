/* save.c - what was learnt, over a restart.
 *
 * A row of numbers a line. The reckoning is left out: it follows from the rest. What a
 * memory goes on from must be what it could have come to by itself, so every number is
 * held to its bounds; they lie far beyond any house, and within what the sums hold. */
#include "heat_inside.h"

#include <inttypes.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#define KWH_J ((int64_t)J_PER_KWH)
#define MOST_MJ (1000000 * KWH_J * MJ_PER_J)

/* One number of the memory, or one for each half hour or level. */
struct row {
    const char *key;
    size_t offset, size;
    int count;
    int64_t least, most;
};

#define ROW(field, count_, least_, most_)                                                          \
    {                                                                                              \
        .key = #field, .offset = offsetof(struct heat_memory, field),                              \
        .size = sizeof(((struct heat_memory *)0)->field) / (count_), .count = (count_),            \
        .least = (least_), .most = (most_)                                                         \
    }

static const struct row learnt_rows[] = {
    ROW(days, 1, 0, HEAT_DAYS),
    ROW(newest, 1, 0, HEAT_DAYS - 1),
    ROW(lump_j, 1, 0, 100 * KWH_J),
    ROW(drawn_j, HEAT_SLOTS, 0, 100 * KWH_J),
};

/* Of the day under way. */
static const struct row today_rows[] = {
    ROW(at.day, 1, 0, 10000000),
    ROW(at.second, 1, 0, HEAT_SLOTS *HEAT_SLOT_S - 1),
    ROW(at_wall_ms, 1, 0, 10000000 * (int64_t)MS_PER_DAY),
    ROW(today_w, HEAT_SLOTS, HEAT_NOT_KNOWN, 32000),
    ROW(slot_sum_mj, 1, -MOST_MJ, MOST_MJ),
    ROW(slot_ms, 1, 0, MS_PER_DAY),
    ROW(bright, 1, 0, RANK_WHOLE),
    ROW(missed_j, 1, -MISSED_MOST_J, MISSED_MOST_J),
    ROW(expected_j, 1, 0, 100 * KWH_J),
};

/* Of how full the store is. */
static const struct row store_rows[] = {
    ROW(known, 1, 0, 1),
    ROW(known_mj, 1, 0, MOST_MJ),
    ROW(in_mj, 1, 0, MOST_MJ),
    ROW(shown_mj, 1, 0, MOST_MJ),
    ROW(lost_mj, 1, -MOST_MJ, MOST_MJ),
    ROW(passed_ms, HEAT_SLOTS, 0, PASSED_MOST_MS),
    ROW(belief, HEAT_LEVELS, 0, BELIEF_WHOLE),
    ROW(shift_mj, 1, -MOST_MJ, MOST_MJ),
    ROW(open, 1, 0, 1),
    ROW(spread_j, 1, 0, SPREAD_MOST_J),
    ROW(spread_ms, 1, 0, SPREAD_TICKS *HEAT_TICK_MS),
};

/* Of how much of it is hot; texts of before it was kept have no such row. */
static const struct row hot_row = ROW(hot_mj, 1, 0, HOT_MOST_MJ);

/* Of one day; its place is given. */
static const struct row day_row = {
    .key = "spare_w", .size = sizeof(int16_t), .count = HEAT_SLOTS, .least = -32000, .most = 32000};

#define COUNT(rows) (sizeof(rows) / sizeof((rows)[0]))

/* ---- a number of the memory, by its size ------------------------------------------- */

static int64_t number_at(const char *field, size_t size)
{
    int64_t wide = 0;
    int32_t narrow = 0;
    int16_t small = 0;
    uint8_t byte = 0;
    switch (size) {
    case sizeof(wide):
        return memcpy(&wide, field, size), wide;
    case sizeof(narrow):
        return memcpy(&narrow, field, size), narrow;
    case sizeof(small):
        return memcpy(&small, field, size), small;
    default:
        return memcpy(&byte, field, size), byte;
    }
}

static void set_number(char *field, size_t size, int64_t value)
{
    int32_t narrow = (int32_t)value;
    int16_t small = (int16_t)value;
    uint8_t byte = (uint8_t)value;
    switch (size) {
    case sizeof(value):
        memcpy(field, &value, size);
        return;
    case sizeof(narrow):
        memcpy(field, &narrow, size);
        return;
    case sizeof(small):
        memcpy(field, &small, size);
        return;
    default:
        memcpy(field, &byte, size);
    }
}

/* ---- writing -------------------------------------------------------------------------- */

static void write_row(const struct row *row, const void *at, struct text *text)
{
    text_add(text, "%s=", row->key);
    for (int k = 0; k < row->count; k++)
        text_add(text, "%s%" PRId64, k > 0 ? "," : "",
                 number_at((const char *)at + (size_t)k * row->size, row->size));
    text_add(text, "\n");
}

static void write_rows(const struct row rows[], size_t count, const struct heat_memory *memory,
                       struct text *text)
{
    for (size_t k = 0; k < count; k++)
        write_row(&rows[k], (const char *)memory + rows[k].offset, text);
}

void heat_save(const struct heat_memory *memory, struct text *text)
{
    write_rows(learnt_rows, COUNT(learnt_rows), memory, text);
}

void heat_save_day(const struct heat_memory *memory, uint8_t place, struct text *text)
{
    write_row(&day_row, memory->spare_w[place], text);
}

void heat_save_now(const struct heat_settings *settings, const struct heat_memory *memory,
                   struct text *text)
{
    if (!memory->begun)
        return; /* nothing is under way yet */
    write_rows(today_rows, COUNT(today_rows), memory, text);
    text_add(text, "full_mj=%" PRId64 "\n", heat_full_mj(settings));
    write_rows(store_rows, COUNT(store_rows), memory, text);
    write_rows(&hot_row, 1, memory, text);
}

/* ---- reading -------------------------------------------------------------------------- */

/* What follows "key="; NULL: no such row. */
static const char *row_in(const char *text, const char *key)
{
    const char *at = text;
    size_t length = strlen(key);
    while (at && !(strncmp(at, key, length) == 0 && at[length] == '='))
        at = (at = strchr(at, '\n')) ? at + 1 : NULL;
    return at ? at + length + 1 : NULL;
}

/* The numbers after "key=", exactly `count` of them, each within [least, most]. */
static bool read_numbers(const char *text, const char *key, int count, int64_t least, int64_t most,
                         int64_t number[])
{
    const char *at = row_in(text, key);
    for (int k = 0; at && k < count; k++) {
        char *end;
        number[k] = strtoll(at, &end, 10);
        bool parted = *end == (k + 1 < count ? ',' : '\n');
        if (end == at || !parted || number[k] < least || number[k] > most)
            return false;
        at = end + 1;
    }
    return at != NULL;
}

enum { NUMBERS_MAX = HEAT_SLOTS > HEAT_LEVELS ? HEAT_SLOTS : HEAT_LEVELS };

/* `at` NULL: is only looked at. */
static bool read_row(const struct row *row, const char *text, void *at)
{
    int64_t number[NUMBERS_MAX];
    if (!read_numbers(text, row->key, row->count, row->least, row->most, number))
        return false;
    for (int k = 0; k < row->count && at; k++)
        set_number((char *)at + (size_t)k * row->size, row->size, number[k]);
    return true;
}

static bool are_whole(const struct row rows[], size_t count, const char *text)
{
    for (size_t k = 0; k < count; k++)
        if (!read_row(&rows[k], text, NULL))
            return false;
    return true;
}

static void take_rows(const struct row rows[], size_t count, const char *text,
                      struct heat_memory *memory)
{
    for (size_t k = 0; k < count; k++)
        read_row(&rows[k], text, (char *)memory + rows[k].offset);
}

bool heat_restore(struct heat_memory *memory, const char *text)
{
    if (!are_whole(learnt_rows, COUNT(learnt_rows), text))
        return false;
    take_rows(learnt_rows, COUNT(learnt_rows), text, memory);
    return true;
}

bool heat_restore_day(struct heat_memory *memory, uint8_t place, const char *text)
{
    return place < HEAT_DAYS && are_whole(&day_row, 1, text) &&
           read_row(&day_row, text, memory->spare_w[place]);
}

static bool belief_is_whole(const char *text)
{
    int64_t share[HEAT_LEVELS], sum = 0;
    if (!read_numbers(text, "belief", HEAT_LEVELS, 0, BELIEF_WHOLE, share))
        return false;
    for (int g = 0; g < HEAT_LEVELS; g++)
        sum += share[g];
    return sum == BELIEF_WHOLE;
}

bool heat_restore_now(const struct heat_settings *settings, struct heat_memory *memory,
                      const char *text)
{
    int64_t full_mj;
    bool tells_hot = row_in(text, hot_row.key) != NULL;
    if (text[0] == '\0')
        return true;
    if ((tells_hot && !read_row(&hot_row, text, NULL)) ||
        !are_whole(today_rows, COUNT(today_rows), text) ||
        !are_whole(store_rows, COUNT(store_rows), text) || !belief_is_whole(text) ||
        !read_numbers(text, "full_mj", 1, 0, MOST_MJ, &full_mj))
        return false;
    take_rows(today_rows, COUNT(today_rows), text, memory);
    if (full_mj == heat_full_mj(settings)) { /* else another tank: how full it is, nobody knows */
        take_rows(store_rows, COUNT(store_rows), text, memory);
        memory->hot_mj = HOT_MOST_MJ;
        if (tells_hot)
            read_row(&hot_row, text, &memory->hot_mj);
    }
    memory->begun = memory->resumed = true;
    return true;
}
