/* record.c - from spans to pieces, runs and events.
 *
 * A span may pass midnight or the end of a piece; it is cut there, so that each piece holds
 * what its time held. The sun serves the household first and then the loads, each by its
 * share, as the trial itself counts it.
 *
 * Events are written as the daemon would write them: when a load starts or stops, or does
 * either for another reason, and when a floor is kept or missed. One thing is known here
 * that the daemon cannot know: what a load without a meter of its own really took of its
 * set-point, such as a car that is away or full. Its floors are judged by that. */
#include "trial/record.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "core/quantity.h"
#include "core/text.h"
#include "rules/kind.h"

enum { J_PER_WH = 3600, MWH_PER_10_WH = 10000 };
#define J_PER_MWH 3.6 /* milliwatt-hours */

/* ---- pieces ------------------------------------------------------------------------------- */

static struct result_amount *last_of(struct result_track *track)
{
    return &track->piece[track->count - 1].amount;
}

static bool is_wanted(const struct record *record, int64_t at_ms)
{
    const struct result *result = record->result;
    return !record->one_day || (at_ms >= result->begin_ms && at_ms < result->end_ms);
}

static int64_t earlier(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static int64_t end_of_piece(const struct record *record, int64_t at_ms)
{
    const struct zone *zone = record->home->zone;
    int32_t day = local_of_wall(zone, (struct wall){at_ms}).day;
    int64_t day_end_ms = wall_of_local(zone, day + 1, 0).ms;
    return earlier(day_end_ms, (at_ms / record->piece_ms + 1) * record->piece_ms);
}

/* Every track has its piece, or none has. */
static void begin_pieces(struct record *record, int64_t from_ms)
{
    struct result *result = record->result;
    struct result_track *const house[] = {&result->grid, &result->spare, &result->solar,
                                          &result->use, &result->tank};
    record->piece_end_ms = end_of_piece(record, from_ms);
    for (size_t k = 0; k < sizeof(house) / sizeof(house[0]); k++)
        result_add_piece(result, house[k], from_ms, from_ms);
    for (size_t k = 0; k < result->load_count; k++)
        result_add_piece(result, &result->load[k], from_ms, from_ms);
}

/* False: nothing is written at that moment. */
static bool piece_at(struct record *record, int64_t at_ms)
{
    if (at_ms >= record->piece_end_ms && is_wanted(record, at_ms))
        begin_pieces(record, at_ms);
    return is_wanted(record, at_ms) && !record->result->lost;
}

/* ---- events -------------------------------------------------------------------------------- */

static struct result_event *add_event(struct record *record, int64_t at_ms, uint16_t load,
                                      bool switches)
{
    struct result_event *event =
        result_add_event(record->result, at_ms, record->result->load[load].name);
    if (event)
        event->switches = switches;
    return event;
}

/* Reasons that change while nothing is switched are many, and written of one day at most. */
static void note_reason(struct record *record, int64_t at_ms, uint16_t index,
                        const struct decision *decision)
{
    struct record_load *load = &record->load[index];
    bool switches = decision->on != load->on;
    bool other_reason =
        decision->reason.code != load->reason.code && record->one_day && is_wanted(record, at_ms);
    struct result_event *event =
        switches || other_reason ? add_event(record, at_ms, index, switches) : NULL;
    if (!event)
        return;
    struct text text = text_in(event->text, sizeof(event->text));
    int other = reason_load(&decision->reason);
    reason_write(&decision->reason,
                 other >= 0 && other < record->rules->load_count ? record->result->load[other].name
                                                                 : NULL,
                 &text);
    load->reason = decision->reason;
}

/* In whole minutes or 10 Wh, as the daemon has it. */
static void write_missing(struct text *text, enum floor_measure measure, int64_t number)
{
    bool energy = measure == FLOOR_ENERGY;
    int64_t step = energy ? MWH_PER_10_WH : MS_PER_MIN;
    quantity_write(energy ? QUANTITY_ENERGY_MWH : QUANTITY_DURATION_MS, number / step * step, text);
}

/* ---- what was really taken ---------------------------------------------------------------- */

/* By the set-point at nominal voltage a few percent go astray: those count as taken. */
#define TAKEN_SHARE 0.9

bool record_is_blind(const struct load_settings *load)
{
    return kind_of(load)->needs_power && !load->metered;
}

static int64_t next_deadline_ms(const struct record *record, const struct floor_settings *floor,
                                int64_t at_ms)
{
    const struct zone *zone = record->home->zone;
    int32_t today = local_of_wall(zone, (struct wall){at_ms}).day;
    if (floor->every_days > 0)
        return INT64_MAX; /* its period ends when it is met, or missed */
    for (int32_t day = today; day <= today + 7; day++) {
        int64_t deadline_ms = wall_of_local(zone, day, floor->by_s).ms;
        if (deadline_ms > at_ms && floor->weekdays >> weekday_of_days(day) & 1)
            return deadline_ms;
    }
    return INT64_MAX;
}

static void take_floors(struct record *record, int load, int64_t from_ms, int64_t to_ms, double w)
{
    const struct load_settings *settings = &record->rules->loads[load];
    for (int k = 0; k < settings->floor_count && record_is_blind(settings); k++) {
        struct record_took *took = &record->load[load].took[k];
        if (from_ms >= took->until_ms)
            *took = (struct record_took){
                .until_ms = next_deadline_ms(record, &settings->floor[k], from_ms)};
        took->j += w * (double)(to_ms - from_ms) / MS_PER_S;
        took->drew_ms += w > 1 ? to_ms - from_ms : 0;
    }
}

static bool was_taken(const struct record *record, int load, uint8_t index)
{
    const struct floor_settings *floor = &record->rules->loads[load].floor[index];
    const struct record_took *took = &record->load[load].took[index];
    double amount = TAKEN_SHARE * (double)floor->amount;
    if (!record_is_blind(&record->rules->loads[load]))
        return true;
    return floor->measure == FLOOR_ENERGY ? took->j * 1000 / J_PER_WH >= amount
                                          : (double)took->drew_ms >= amount;
}

static void write_taken(const struct record_took *took, const struct floor_settings *floor,
                        struct text *text)
{
    bool energy = floor->measure == FLOOR_ENERGY;
    int64_t tenth = 100000, taken = energy ? llround(took->j * 1000 / J_PER_WH) : took->drew_ms;
    text_add(text, "counted as met by its set-point, but it took only ");
    if (energy)
        quantity_write(QUANTITY_ENERGY_MWH, (taken + tenth / 2) / tenth * tenth, text);
    else
        write_missing(text, floor->measure, taken);
    text_add(text, " of ");
    write_missing(text, floor->measure, floor->amount);
}

static void note_floor(struct record *record, int64_t at_ms, const struct rules_event *news)
{
    bool met = news->kind != EVENT_FLOOR_MISSED; /* whether it drew, the house itself shows */
    uint8_t index = met ? (uint8_t)news->number : news->floor;
    const struct floor_settings *floor = &record->rules->loads[news->load].floor[index];
    bool taken = was_taken(record, news->load, index);
    struct result_event *event = add_event(record, at_ms, news->load, true);
    if (event) {
        struct text text = text_in(event->text, sizeof(event->text));
        text_add(&text, "floor %u ", index + 1u);
        if (!met) {
            text_add(&text, "missed by ");
            write_missing(&text, floor->measure, news->number);
        } else if (taken) {
            text_add(&text, "met");
        } else {
            write_taken(&record->load[news->load].took[index], floor, &text);
        }
    }
    if (piece_at(record, at_ms)) {
        struct result_amount *amount = last_of(&record->result->load[news->load]);
        amount->kept += met && taken;
        amount->untaken += met && !taken;
        amount->missed += !met;
    }
    if (floor->every_days > 0)
        record->load[news->load].took[index].until_ms = 0;
}

static void note_satisfied(struct record *record, int64_t at_ms, const struct rules_event *news)
{
    struct result_event *event = add_event(record, at_ms, news->load, true);
    if (event)
        strcpy(event->text, news->number ? "possibly satisfied: it stopped drawing"
                                         : "satisfied: the thermostat has opened");
}

static void note_events(struct record *record, const struct trial_span *span)
{
    for (int k = 0; k < span->event_count; k++) {
        const struct rules_event *news = &span->event[k];
        if (news->kind == EVENT_FLOOR_MET || news->kind == EVENT_FLOOR_MISSED ||
            news->kind == EVENT_FLOOR_UNPROVEN)
            note_floor(record, span->from.ms, news);
        else if (news->kind == EVENT_SATISFIED)
            note_satisfied(record, span->from.ms, news);
    }
}

/* ---- a part of a span ---------------------------------------------------------------------- */

struct part {
    int64_t from_ms, to_ms;
    double seconds, spare_w, sun_share;
};

static bool is_on(const struct trial_span *span, int load)
{
    return span->decision ? span->decision[load].on : span->load_w[load] > 1;
}

static void take(struct result_track *track, const struct part *part, double spare_j, double grid_j)
{
    track->piece[track->count - 1].to_ms = part->to_ms;
    last_of(track)->spare_mwh += spare_j / J_PER_MWH;
    last_of(track)->grid_mwh += grid_j / J_PER_MWH;
}

static void take_load(struct record *record, int index, const struct trial_span *span,
                      const struct part *part)
{
    struct result_track *track = &record->result->load[index];
    double j = span->load_w[index] * part->seconds;
    int64_t ms = part->to_ms - part->from_ms;
    take(track, part, j * part->sun_share, j * (1 - part->sun_share));
    last_of(track)->draws_ms += span->load_w[index] > 1 ? ms : 0;
    if (!is_on(span, index))
        return;
    last_of(track)->on_ms += ms;
    if (track->run_count == 0)
        return;
    struct result_run *run = &track->run[track->run_count - 1];
    run->to_ms = part->to_ms;
    run->spare_mwh += j * part->sun_share / J_PER_MWH;
    run->grid_mwh += j * (1 - part->sun_share) / J_PER_MWH;
}

static void take_tank(struct record *record, const struct trial_span *span, const struct part *part)
{
    struct result_track *tank = &record->result->tank;
    take(tank, part, 0, 0);
    for (int k = 0; k < record->home->tank_count; k++)
        last_of(tank)->coldest_c = fmin(last_of(tank)->coldest_c, span->top_c[k]);
    if (record->home->tank_count > 0)
        last_of(tank)->end_c = span->tank_c[0];
}

static void take_part(struct record *record, const struct trial_span *span, const struct part *part)
{
    struct result *result = record->result;
    double s = part->seconds;
    for (int k = 0; k < span->load_count && record->rules; k++)
        take_floors(record, k, part->from_ms, part->to_ms, span->load_w[k]);
    if (!piece_at(record, part->from_ms))
        return;
    take(&result->grid, part, fmax(0, -span->grid_w) * s, fmax(0, span->grid_w) * s);
    take(&result->spare, part, part->spare_w * s, 0);
    take(&result->solar, part, span->solar_w * s, 0);
    take(&result->use, part, 0, span->use_w * s);
    take_tank(record, span, part);
    for (int k = 0; k < span->load_count; k++)
        take_load(record, k, span, part);
    result->known_ms = part->to_ms;
}

/* ---- a span -------------------------------------------------------------------------------- */

static void begin_runs(struct record *record, const struct trial_span *span)
{
    bool writes = piece_at(record, span->from.ms);
    for (uint16_t k = 0; k < span->load_count; k++) {
        struct record_load *load = &record->load[k];
        struct result_track *track = &record->result->load[k];
        bool on = is_on(span, k), starts = on && !load->on;
        if (span->decision)
            note_reason(record, span->from.ms, k, &span->decision[k]);
        struct result_run *run =
            starts && !record->one_day ? result_add_run(record->result, track) : NULL;
        if (run)
            run->from_ms = span->from.ms;
        if (writes)
            last_of(track)->starts += starts;
        load->on = on;
    }
    note_events(record, span);
}

void record_span(void *context, const struct trial_span *span)
{
    struct record *record = context;
    struct part part = {.from_ms = span->from.ms};
    double loads_w = 0;
    if (record->result->lost)
        return;
    for (int k = 0; k < span->load_count; k++)
        loads_w += span->load_w[k];
    part.spare_w = fmax(0, span->solar_w - span->use_w);
    part.sun_share = loads_w <= part.spare_w ? 1 : part.spare_w / loads_w;
    begin_runs(record, span);
    while (part.from_ms < span->to.ms) {
        piece_at(record, part.from_ms);
        part.to_ms = earlier(span->to.ms, part.from_ms < record->piece_end_ms
                                              ? record->piece_end_ms
                                              : end_of_piece(record, part.from_ms));
        part.seconds = (double)(part.to_ms - part.from_ms) / MS_PER_S;
        take_part(record, span, &part);
        part.from_ms = part.to_ms;
    }
}
