/* day_runs.c - from events to runs, and to whether the floors were kept.
 *
 * The daemon writes an event whenever a load's reason changes; the reason begins
 * with "on:", "off:" or, where the output has not confirmed, "ordered off". A run is from the
 * first "on:" to the next of the other two. */
#include <stdlib.h>
#include <string.h>

#include "day.h"

/* Two rows of history: one may be late, or shorter than the others. */
enum { GAP_MS = 10 * MS_PER_MIN };

static bool begins(const char *text, const char *word)
{
    return strncmp(text, word, strlen(word)) == 0;
}

static void add_run(struct result *day, struct result_track *load, struct result_run run)
{
    if (run.to_ms <= day->begin_ms || run.from_ms >= day->known_ms || run.to_ms <= run.from_ms)
        return;
    run.from_before = run.from_ms < day->begin_ms;
    if (run.from_before)
        run.from_ms = day->begin_ms;
    struct result_run *kept = result_add_run(day, load);
    if (!kept)
        exit((int)complain(STATUS_NOT_THERE, "no memory"));
    *kept = run;
}

/* Where recording stops for long between `from_ms` and `to_ms`; else to_ms. What a load did while
 * nobody wrote it down is not known. */
static int64_t recorded_until(const struct result *day, int64_t from_ms, int64_t to_ms)
{
    int64_t end_ms = from_ms > day->begin_ms ? from_ms : day->begin_ms;
    for (size_t k = 0; k < day->grid.count; k++) {
        const struct result_piece *piece = &day->grid.piece[k];
        if (piece->to_ms <= end_ms)
            continue;
        if (piece->from_ms - end_ms > GAP_MS)
            break;
        end_ms = piece->to_ms;
    }
    return to_ms - end_ms > GAP_MS ? end_ms : to_ms;
}

static void end_run(struct result *day, struct result_track *load, struct result_run run,
                    int64_t to_ms, const char *ended)
{
    run.to_ms = recorded_until(day, run.from_ms, to_ms);
    run.ended = run.to_ms == to_ms ? ended : "not recorded further";
    add_run(day, load, run);
}

static void find_runs(struct result *day, struct result_track *load)
{
    struct result_run run = {0};
    bool on = false;
    for (size_t k = 0; k < day->event_count; k++) {
        const struct result_event *event = &day->event[k];
        bool starts = begins(event->text, "on:");
        bool stops = begins(event->text, "off:") || begins(event->text, "ordered off");
        if (strcmp(event->subject, load->name) != 0 || !(starts || stops))
            continue;
        bool gap = on && recorded_until(day, run.from_ms, event->at_ms) < event->at_ms;
        if (on && (stops || gap)) {
            end_run(day, load, run, event->at_ms, event->text);
            on = false;
        }
        if (!on && starts) {
            run = (struct result_run){.from_ms = event->at_ms, .began = event->text};
            on = true;
        }
    }
    run.goes_on = true;
    if (on)
        end_run(day, load, run, day->known_ms, "");
}

/* ---- floors ------------------------------------------------------------------------- */

/* "floor 2 met", "floor 2 missed by 40 min; ..."; older ledgers have no number. */
static bool speaks_of_floor(const char *text, int floor, const char *what)
{
    char wanted[RESULT_NAME_MAX], unnumbered[RESULT_NAME_MAX];
    struct text with = text_in(wanted, sizeof(wanted));
    struct text without = text_in(unnumbered, sizeof(unnumbered));
    text_add(&with, "floor %d %s", floor + 1, what);
    text_add(&without, "floor %s", what);
    return begins(text, wanted) || begins(text, unnumbered);
}

static const struct result_event *find_floor_event(const struct result *day,
                                                   const struct result_track *load, int floor,
                                                   const char *what, int64_t from_ms, int64_t to_ms)
{
    for (size_t k = 0; k < day->event_count; k++) {
        const struct result_event *event = &day->event[k];
        if (event->at_ms > from_ms && event->at_ms <= to_ms &&
            strcmp(event->subject, load->name) == 0 && speaks_of_floor(event->text, floor, what))
            return event;
    }
    return NULL;
}

/* The deadline that the period before this one had. */
static int64_t deadline_before(const struct result *day, const struct result_track *load, int k)
{
    int32_t today = days_of_date(day->date);
    for (int32_t back = 1; back <= 7; back++)
        if (load->floor[k].weekdays & (1u << weekday_of_days(today - back)))
            return wall_of_local(&day->zone, today - back, load->floor[k].by_s).ms;
    return day->begin_ms - MS_PER_DAY;
}

static void judge_floor(const struct result *day, struct result_track *load, int k)
{
    struct result_floor *floor = &load->floor[k];
    int32_t today = days_of_date(day->date);
    bool has_deadline = load->floor[k].weekdays & (1u << weekday_of_days(today));
    if (!has_deadline)
        return;
    floor->deadline_ms = wall_of_local(&day->zone, today, load->floor[k].by_s).ms;
    int64_t from_ms = deadline_before(day, load, k);
    int64_t late_ms = floor->deadline_ms + MS_PER_MIN; /* told in the turn after */
    const struct result_event *met =
        find_floor_event(day, load, k, "met", from_ms, floor->deadline_ms);
    const struct result_event *missed =
        find_floor_event(day, load, k, "missed", floor->deadline_ms - MS_PER_MIN, late_ms);
    if (!missed) /* a replay's: "floor 2 counted as met by its set-point, but ..." */
        missed = find_floor_event(day, load, k, "counted as met", from_ms, floor->deadline_ms);
    const struct result_event *unproven =
        find_floor_event(day, load, k, "was run", from_ms, floor->deadline_ms);
    if (met) {
        floor->promise = PROMISE_KEPT;
        floor->kept_ms = met->at_ms;
    } else if (missed) {
        floor->promise = PROMISE_MISSED;
        floor->missed = missed->text;
    } else if (unproven || day->known_ms >= floor->deadline_ms) {
        floor->promise = PROMISE_UNKNOWN;
        floor->missed = unproven ? unproven->text : NULL;
    }
}

void day_runs(struct result *day)
{
    for (size_t k = 0; k < day->load_count; k++) {
        struct result_track *load = &day->load[k];
        find_runs(day, load);
        for (int floor = 0; floor < load->floor_count; floor++)
            judge_floor(day, load, floor);
    }
}
