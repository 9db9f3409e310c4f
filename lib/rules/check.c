/* check.c - settings that no weather can keep.
 *
 * A floor has to fit into the permitted time of each of its periods, with its
 * reserve and one rest before it. This is worked out over a plain week, without
 * changes of the clock. */
#include "load.h"
#include "turn.h"

#include <stdio.h>

/* A Monday: 1 June 2026, as days since 1970. */
enum { A_MONDAY = 20605 };

static int64_t longest_run_ms(const struct load_settings *load, const struct floor_settings *floor)
{
    int64_t power_w = maximum_64(1, load_most_w(load, NULL));
    int64_t run_ms = floor->measure == FLOOR_ENERGY ? (floor->amount * 3600 + power_w - 1) / power_w
                                                    : floor->amount;
    return maximum_64(run_ms, load->min_on_ms);
}

static int64_t permitted_ms(const struct load_settings *load, int64_t from, int64_t to)
{
    int64_t sum_ms = 0;
    while (from < to) {
        int64_t midnight = (from / MS_PER_DAY + 1) * MS_PER_DAY;
        int64_t end = minimum_64(midnight, to);
        int64_t open_ms =
            hours_open_ms(&load->hours, &zone_utc, (struct wall){from}, (struct wall){end});
        sum_ms += minimum_64(open_ms, load->daily_max_ms ? load->daily_max_ms : ENDLESS_MS);
        from = end;
    }
    return sum_ms;
}

static int64_t deadline_ms(const struct floor_settings *floor, int32_t day)
{
    return (int64_t)day * MS_PER_DAY + (int64_t)floor->by_s * MS_PER_S;
}

/* The least permitted time of any period of the week. */
static int64_t shortest_period_ms(const struct load_settings *load,
                                  const struct floor_settings *floor)
{
    uint8_t weekdays = floor->weekdays ? floor->weekdays : WEEKDAYS_ALL;
    int64_t least_ms = ENDLESS_MS, before = -1;
    if (floor->every_days) {
        /* a period begins whenever the one before was met: on any day, at its end */
        for (int32_t day = A_MONDAY; day < A_MONDAY + 7; day++)
            least_ms =
                minimum_64(least_ms, permitted_ms(load, (int64_t)(day + 1) * MS_PER_DAY,
                                                  deadline_ms(floor, day + floor->every_days)));
        return least_ms;
    }
    for (int32_t day = A_MONDAY; day < A_MONDAY + 15; day++) {
        if (!(weekdays & (1u << weekday_of_days(day))))
            continue;
        int64_t deadline = deadline_ms(floor, day);
        if (before >= 0)
            least_ms = minimum_64(least_ms, permitted_ms(load, before, deadline));
        before = deadline;
    }
    return least_ms;
}

static bool floor_check(const struct load_settings *load, unsigned index, uint8_t k,
                        struct trouble *trouble)
{
    const struct floor_settings *floor = &load->floor[k];
    int64_t needed_ms = longest_run_ms(load, floor) + floor->reserve_ms + load->min_off_ms;
    int64_t permitted = shortest_period_ms(load, floor);
    if (needed_ms <= permitted)
        return true;
    char needed_text[48], permitted_text[48], place[24];
    struct text needed = text_in(needed_text, sizeof(needed_text));
    struct text left = text_in(permitted_text, sizeof(permitted_text));
    quantity_write(QUANTITY_DURATION_MS, needed_ms, &needed);
    quantity_write(QUANTITY_DURATION_MS, permitted, &left);
    snprintf(place, sizeof(place), "%u.%u", index, k);
    return trouble_set(trouble, place,
                       "this floor needs %s (run, reserve and minimum off), but its hours and "
                       "daily maximum permit only %s before the deadline",
                       needed_text, permitted_text);
}

/* A daily maximum is one for the deadlines of two periods: over a week all runs must
 * fit into all days. */
static bool week_check(const struct load_settings *load, unsigned index, uint8_t k,
                       struct trouble *trouble)
{
    const struct floor_settings *floor = &load->floor[k];
    uint8_t weekdays = floor->weekdays ? floor->weekdays : WEEKDAYS_ALL;
    int64_t monday = (int64_t)A_MONDAY * MS_PER_DAY, needed_ms = 0;
    for (int day = MONDAY; day <= SUNDAY; day++)
        if (!floor->every_days && (weekdays & (1u << day)))
            needed_ms += longest_run_ms(load, floor);
    if (needed_ms <= permitted_ms(load, monday, monday + 7 * (int64_t)MS_PER_DAY))
        return true;
    char place[24];
    snprintf(place, sizeof(place), "%u.%u", index, k);
    return trouble_set(trouble, place,
                       "a week's deadlines of this floor ask for more than its hours and daily "
                       "maximum permit in a week");
}

static bool load_check(const struct rules_settings *settings, uint16_t index,
                       struct trouble *trouble)
{
    const struct load_settings *load = &settings->loads[index];
    char place[24];
    snprintf(place, sizeof(place), "%u", index);
    if (load->daily_max_ms > 0 && load->min_on_ms > load->daily_max_ms)
        return trouble_set(trouble, place,
                           "minimum on is longer than the daily maximum: it could never start");
    bool learnt = load->start_permille == RULES_START_LEARNT;
    if ((learnt || load->start_permille == 0) && settings->tariff.count == 0)
        return trouble_set(trouble, place, "the start fraction is to be %s, but there is no tariff",
                           learnt ? "learnt" : "derived");
    if (learnt && load->water.volume_ml == 0)
        return trouble_set(trouble, place,
                           "the start fraction is to be learnt, but what is heated is not told: "
                           "write the section water");
    for (uint8_t k = 0; k < load->floor_count; k++)
        if (!floor_check(load, index, k, trouble) || !week_check(load, index, k, trouble))
            return false;
    return true;
}

bool rules_settings_check(const struct rules_settings *settings, struct trouble *trouble)
{
    for (uint16_t i = 0; i < settings->load_count; i++)
        if (!load_check(settings, i, trouble))
            return false;
    return true;
}

/* By priority; equals stay in the order of the settings. */
void rules_order(const struct load_settings loads[], uint16_t count, uint16_t order[])
{
    for (uint16_t i = 0; i < count; i++) {
        uint16_t place = i;
        while (place > 0 && loads[order[place - 1]].priority > loads[i].priority) {
            order[place] = order[place - 1];
            place--;
        }
        order[place] = i;
    }
}
