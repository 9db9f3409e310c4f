/* save.c - what was learnt, over a restart.
 *
 * A row of numbers a line. The belief and the reckoning are left out: the one is to be
 * seen anew, the other follows from the rest. */
#include "heat_inside.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

static void write_number(struct text *text, const char *key, int64_t value)
{
    text_add(text, "%s=%" PRId64 "\n", key, value);
}

void heat_save(const struct heat_memory *memory, struct text *text)
{
    write_number(text, "days", memory->days);
    write_number(text, "newest", memory->newest);
    write_number(text, "lump_j", memory->lump_j);
    text_add(text, "drawn_j=");
    for (int s = 0; s < HEAT_SLOTS; s++)
        text_add(text, "%s%" PRId32, s > 0 ? "," : "", memory->drawn_j[s]);
    text_add(text, "\n");
}

void heat_save_day(const struct heat_memory *memory, uint8_t place, struct text *text)
{
    text_add(text, "spare_w=");
    for (int s = 0; s < HEAT_SLOTS; s++)
        text_add(text, "%s%d", s > 0 ? "," : "", memory->spare_w[place][s]);
    text_add(text, "\n");
}

/* The numbers after "key=", exactly `count` of them, each within [least, most]. */
static bool read_numbers(const char *text, const char *key, int count, int64_t least, int64_t most,
                         int64_t number[])
{
    const char *at = text;
    size_t length = strlen(key);
    while (at && !(strncmp(at, key, length) == 0 && at[length] == '='))
        at = (at = strchr(at, '\n')) ? at + 1 : NULL;
    if (!at)
        return false;
    at += length + 1;
    for (int k = 0; k < count; k++) {
        char *end;
        number[k] = strtoll(at, &end, 10);
        bool parted = *end == (k + 1 < count ? ',' : '\n');
        if (end == at || !parted || number[k] < least || number[k] > most)
            return false;
        at = end + 1;
    }
    return true;
}

bool heat_restore(struct heat_memory *memory, const char *text)
{
    int64_t days, newest, lump_j, drawn_j[HEAT_SLOTS];
    bool whole = read_numbers(text, "days", 1, 0, HEAT_DAYS, &days) &&
                 read_numbers(text, "newest", 1, 0, HEAT_DAYS - 1, &newest) &&
                 read_numbers(text, "lump_j", 1, 0, 100 * (int64_t)J_PER_KWH, &lump_j) &&
                 read_numbers(text, "drawn_j", HEAT_SLOTS, 0, 100 * (int64_t)J_PER_KWH, drawn_j);
    if (!whole)
        return false;
    memory->days = (uint8_t)days;
    memory->newest = (uint8_t)newest;
    memory->lump_j = (int32_t)lump_j;
    for (int s = 0; s < HEAT_SLOTS; s++)
        memory->drawn_j[s] = (int32_t)drawn_j[s];
    return true;
}

bool heat_restore_day(struct heat_memory *memory, uint8_t place, const char *text)
{
    int64_t spare_w[HEAT_SLOTS];
    if (place >= HEAT_DAYS || !read_numbers(text, "spare_w", HEAT_SLOTS, -32000, 32000, spare_w))
        return false;
    for (int s = 0; s < HEAT_SLOTS; s++)
        memory->spare_w[place][s] = (int16_t)spare_w[s];
    return true;
}
