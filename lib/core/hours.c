/* hours.c - hours of the week.
 *
 * The idea: between two changes of the zone's offset the local clock runs evenly,
 * so the next moment at which anything can change is found by arithmetic: the
 * nearest end of a span, midnight (another weekday) or the change itself, where
 * the clock jumps. Everything walks from one such edge to the next. */
#include "hours.h"

#include <string.h>
#include <strings.h>

#include "quantity.h"

enum { S_PER_DAY = 86400 };

/* ---- open or closed -------------------------------------------------------------- */

static bool begins_on(const struct hours_span *span, int32_t day)
{
    return (span->weekdays >> weekday_of_days(day) & 1) != 0;
}

static bool span_open(const struct hours_span *span, const struct local *local)
{
    bool begun = local->second >= span->from_s && begins_on(span, local->day);
    if (span->to_s > span->from_s)
        return begun && local->second < span->to_s;
    return begun || (local->second < span->to_s && begins_on(span, local->day - 1));
}

bool hours_open(const struct hours *hours, const struct local *local)
{
    for (int i = 0; i < hours->count; i++)
        if (span_open(&hours->span[i], local))
            return true;
    return hours->count == 0;
}

/* ---- from edge to edge ------------------------------------------------------------- */

/* A walk stands at a moment and knows whether the hours are open there. */
struct walk {
    const struct hours *hours;
    const struct zone *zone;
    int64_t at_ms;
    int64_t change_ms; /* the zone's next change after at_ms */
    struct local local;
    bool open;
};

/* Where the walk begins, and where the clock jumps, the zone is asked. */
static void ask_zone(struct walk *walk)
{
    struct wall change, wall = {walk->at_ms};
    walk->local = local_of_wall(walk->zone, wall);
    walk->change_ms = zone_next_change(walk->zone, wall, &change) ? change.ms : INT64_MAX;
}

static struct walk walk_from(const struct hours *hours, const struct zone *zone, struct wall wall)
{
    struct walk walk = {.hours = hours, .zone = zone, .at_ms = wall.ms};
    ask_zone(&walk);
    walk.open = hours_open(hours, &walk.local);
    return walk;
}

static int32_t nearer(int32_t edge_s, int32_t best_s, int32_t after_s)
{
    return edge_s > after_s && edge_s < best_s ? edge_s : best_s;
}

static void walk_on(struct walk *walk)
{
    int32_t now_s = walk->local.second, edge_s = S_PER_DAY;
    for (int i = 0; i < walk->hours->count; i++) {
        edge_s = nearer(walk->hours->span[i].from_s, edge_s, now_s);
        edge_s = nearer(walk->hours->span[i].to_s, edge_s, now_s);
    }
    int64_t part_ms = walk->at_ms % MS_PER_S;
    int64_t second_ms = walk->at_ms - part_ms - (part_ms < 0 ? MS_PER_S : 0);
    int64_t edge_ms = second_ms + (int64_t)(edge_s - now_s) * MS_PER_S;
    if (edge_ms < walk->change_ms) {
        walk->at_ms = edge_ms;
        walk->local.day += edge_s == S_PER_DAY;
        walk->local.second = edge_s % S_PER_DAY;
    } else {
        walk->at_ms = walk->change_ms;
        ask_zone(walk);
    }
    walk->open = hours_open(walk->hours, &walk->local);
}

/* Hours repeat after a week; what has not changed in two (a week, and whatever a
 * change of the zone's offset may have skipped) never does. */
static int64_t last_useful_ms(struct wall wall, struct wall limit)
{
    const int64_t two_weeks_ms = 15 * (int64_t)MS_PER_DAY;
    return wall.ms < limit.ms - two_weeks_ms ? wall.ms + two_weeks_ms : limit.ms;
}

struct wall hours_next_edge(const struct hours *hours, const struct zone *zone, struct wall wall,
                            struct wall limit)
{
    if (hours->count == 0)
        return limit;
    int64_t last_ms = last_useful_ms(wall, limit);
    struct walk walk = walk_from(hours, zone, wall);
    bool open = walk.open;
    while (walk.at_ms < last_ms) {
        walk_on(&walk);
        if (walk.open != open)
            return walk.at_ms < limit.ms ? (struct wall){walk.at_ms} : limit;
    }
    return limit;
}

int64_t hours_open_ms(const struct hours *hours, const struct zone *zone, struct wall from,
                      struct wall to)
{
    if (to.ms <= from.ms)
        return 0;
    if (hours->count == 0)
        return to.ms - from.ms;
    int64_t sum_ms = 0;
    struct walk walk = walk_from(hours, zone, from);
    while (walk.at_ms < to.ms) {
        int64_t begun_ms = walk.at_ms;
        bool open = walk.open;
        walk_on(&walk);
        if (open)
            sum_ms += (walk.at_ms < to.ms ? walk.at_ms : to.ms) - begun_ms;
    }
    return sum_ms;
}

/* ---- both of two --------------------------------------------------------------------- */

/* The weekdays `days` later, which may be -1. */
static uint8_t weekdays_later(uint8_t weekdays, int days)
{
    int by = (days + 7) % 7;
    return (uint8_t)((weekdays << by | weekdays >> (7 - by)) & WEEKDAYS_ALL);
}

static int32_t end_of(const struct hours_span *span)
{
    return span->to_s > span->from_s ? span->to_s : span->to_s + S_PER_DAY;
}

/* Where `b` of `later` days after the day on which `a` begins meets it. */
static bool add_meeting(const struct hours_span *a, const struct hours_span *b, int later,
                        struct hours *both)
{
    int32_t shift_s = later * S_PER_DAY;
    int32_t from_s = a->from_s > b->from_s + shift_s ? a->from_s : b->from_s + shift_s;
    int32_t to_s = end_of(a) < end_of(b) + shift_s ? end_of(a) : end_of(b) + shift_s;
    uint8_t weekdays = a->weekdays & weekdays_later(b->weekdays, -later);
    if (from_s >= to_s || weekdays == 0)
        return true;
    if (both->count == HOURS_SPANS_MAX)
        return false;
    bool next_day = from_s >= S_PER_DAY;
    int32_t to_of_day_s = next_day ? to_s - S_PER_DAY : to_s;
    both->span[both->count++] = (struct hours_span){
        .from_s = from_s % S_PER_DAY,
        .to_s = to_of_day_s > S_PER_DAY ? to_of_day_s - S_PER_DAY : to_of_day_s,
        .weekdays = next_day ? weekdays_later(weekdays, 1) : weekdays,
    };
    return true;
}

bool hours_both(const struct hours *a, const struct hours *b, struct hours *both)
{
    *both = a->count == 0 ? *b : a->count > 0 && b->count == 0 ? *a : (struct hours){.count = 0};
    if (a->count == 0 || b->count == 0)
        return true;
    for (int i = 0; i < a->count; i++)
        for (int k = 0; k < b->count; k++)
            for (int later = -1; later <= 1; later++)
                if (!add_meeting(&a->span[i], &b->span[k], later, both))
                    return false;
    return true;
}

/* ---- the text of weekdays ------------------------------------------------------------ */

static const char *const weekday_name[] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};
enum { WEEKDAY_COUNT = 7, WEEKDAY_LETTERS = 3 };

static bool take_weekday(const char **at, unsigned *weekday)
{
    for (unsigned i = 0; i < WEEKDAY_COUNT; i++)
        if (strncasecmp(*at, weekday_name[i], WEEKDAY_LETTERS) == 0) {
            *weekday = i;
            *at += WEEKDAY_LETTERS;
            return true;
        }
    return false;
}

/* "fri" or "fri-mon", which runs over the week's end. */
static bool take_weekday_range(const char **at, unsigned *weekdays)
{
    unsigned first, last;
    if (!take_weekday(at, &first))
        return false;
    last = first;
    if (**at == '-') {
        ++*at;
        if (!take_weekday(at, &last))
            return false;
    }
    for (unsigned i = first; i != last; i = (i + 1) % WEEKDAY_COUNT)
        *weekdays |= 1U << i;
    *weekdays |= 1U << last;
    return true;
}

bool weekdays_parse(const char *text, uint8_t *weekdays, struct trouble *trouble)
{
    char quoted[TEXT_SHORT_SIZE];
    const char *at = text;
    unsigned made = 0;
    if (strcasecmp(text, "daily") == 0) {
        *weekdays = WEEKDAYS_ALL;
        return true;
    }
    bool good = take_weekday_range(&at, &made);
    while (good && *at == ',') {
        at += 1 + strspn(at + 1, " ");
        good = take_weekday_range(&at, &made);
    }
    if (!good || *at != '\0')
        return trouble_set(trouble, "",
                           "\"%s\" is not a list of weekdays: write such as daily, mon-fri or "
                           "sat,sun",
                           text_shorten(quoted, text));
    *weekdays = (uint8_t)made;
    return true;
}

static unsigned run_end(uint8_t weekdays, unsigned first)
{
    unsigned last = first;
    while (last + 1 < WEEKDAY_COUNT && (weekdays >> (last + 1) & 1))
        last++;
    return last;
}

void weekdays_write(uint8_t weekdays, struct text *text)
{
    const char *comma = "";
    weekdays &= WEEKDAYS_ALL;
    if (weekdays == 0 || weekdays == WEEKDAYS_ALL) {
        text_add(text, weekdays ? "daily" : "never");
        return;
    }
    for (unsigned i = 0; i < WEEKDAY_COUNT; i++) {
        if (!(weekdays >> i & 1))
            continue;
        unsigned last = run_end(weekdays, i);
        text_add(text, "%s%s", comma, weekday_name[i]);
        if (last > i + 1) {
            text_add(text, "-%s", weekday_name[last]);
            i = last;
        }
        comma = ",";
    }
}

/* ---- the text of spans ----------------------------------------------------------------- */

enum { CLOCK_TEXT_SIZE = sizeof("00:00:00") };

/* One end of a span, blanks around it left out. */
static bool parse_end(const char *from, const char *to, int32_t *second, struct trouble *trouble)
{
    char clock[CLOCK_TEXT_SIZE];
    int64_t value;
    from += strspn(from, " ");
    while (to > from && to[-1] == ' ')
        to--;
    size_t length = (size_t)(to - from);
    if (length >= sizeof(clock))
        return false;
    memcpy(clock, from, length);
    clock[length] = '\0';
    if (!quantity_parse(QUANTITY_TIME_S, clock, &value, trouble))
        return false;
    *second = (int32_t)value;
    return true;
}

static bool parse_times(const char *text, struct hours_span *span, struct trouble *trouble)
{
    const char *dash = strchr(text, '-');
    return dash && parse_end(text, dash, &span->from_s, trouble) &&
           parse_end(dash + 1, text + strlen(text), &span->to_s, trouble) &&
           span->from_s < S_PER_DAY;
}

/* Where the times begin: at the first word that begins with a digit. */
static const char *times_of(const char *text)
{
    return text + strcspn(text, "0123456789");
}

bool hours_span_parse(const char *text, struct hours_span *span, struct trouble *trouble)
{
    char days[TEXT_SHORT_SIZE], quoted[TEXT_SHORT_SIZE];
    const char *times = times_of(text);
    size_t length = (size_t)(times - text);
    struct hours_span made = {.weekdays = WEEKDAYS_ALL};
    while (length > 0 && text[length - 1] == ' ')
        length--;
    if (length >= sizeof(days) || !parse_times(times, &made, trouble))
        return trouble_set(trouble, "",
                           "\"%s\" is not hours: write such as 09:00-15:00 or mon-fri 22:00-06:00",
                           text_shorten(quoted, text));
    if (made.from_s == made.to_s)
        return trouble_set(trouble, "",
                           "\"%s\" ends when it begins: for the whole day write 00:00-24:00",
                           text_shorten(quoted, text));
    memcpy(days, text, length);
    days[length] = '\0';
    if (length > 0 && !weekdays_parse(days, &made.weekdays, trouble))
        return false;
    *span = made;
    return true;
}

static void span_write(const struct hours_span *span, struct text *text)
{
    if (span->weekdays != WEEKDAYS_ALL) {
        weekdays_write(span->weekdays, text);
        text_add(text, " ");
    }
    quantity_write(QUANTITY_TIME_S, span->from_s, text);
    text_add(text, "-");
    quantity_write(QUANTITY_TIME_S, span->to_s, text);
}

void hours_write(const struct hours *hours, struct text *text)
{
    if (hours->count == 0)
        text_add(text, "always");
    for (int i = 0; i < hours->count; i++) {
        text_add(text, i ? " and " : "");
        span_write(&hours->span[i], text);
    }
}
