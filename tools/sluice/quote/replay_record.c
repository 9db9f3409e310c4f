/* replay_record.c - from spans to days, runs and events.
 *
 * A span may pass midnight, an hour or (where one day's sheet is wanted) five minutes; it
 * is cut there, so that each sum holds what its time held. The sun serves the household
 * first and then the loads, each by its share, as the trial itself counts it.
 *
 * Events are told as the daemon would tell them: when a load starts or stops, or does
 * either for another reason, and when a floor is kept or missed. One thing is known here
 * that the daemon cannot know: what a load without a meter of its own really took of its
 * set-point, such as a car that is away or full. Its floors are judged by that. */
#include "replay_record.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/quantity.h"
#include "rules/kind.h"

enum { PIECE_MS = 5 * MS_PER_MIN, J_PER_WH = 3600 };

void replay_record_begin(struct replay_record *record, const struct settings *settings,
                         const struct trial_home *home, struct day *sheet)
{
    *record = (struct replay_record){.settings = settings, .home = home, .sheet = sheet};
}

void replay_record_free(struct replay_record *record)
{
    for (int k = 0; k < TRIAL_LOADS_MAX; k++)
        free(record->load[k].run);
    free(record->day);
    free(record->event);
    *record = (struct replay_record){0};
}

static void *grown(void *array, size_t *room, size_t count, size_t size)
{
    if (count < *room)
        return array;
    *room = *room ? 2 * *room : 64;
    void *more = realloc(array, *room * size);
    if (!more)
        exit((int)complain(STATUS_NOT_THERE, "no memory"));
    return more;
}

/* ---- events ---------------------------------------------------------------------------- */

static struct replay_event *add_event(struct replay_record *record, int64_t at_ms, uint16_t load,
                                      bool switches)
{
    record->event =
        grown(record->event, &record->event_room, record->event_count, sizeof(record->event[0]));
    struct replay_event *event = &record->event[record->event_count++];
    *event = (struct replay_event){.at_ms = at_ms, .load = load, .switches = switches};
    return event;
}

/* Reasons that change while nothing is switched are many, and shown of one day at most. */
static bool is_shown(const struct replay_record *record, int64_t at_ms)
{
    const struct day *sheet = record->sheet;
    return sheet && at_ms >= sheet->begin_ms && at_ms < sheet->end_ms;
}

static void note_reason(struct replay_record *record, int64_t at_ms, uint16_t index,
                        const struct decision *decision)
{
    struct replay_load *load = &record->load[index];
    bool switches = decision->on != load->on;
    bool news = decision->reason.code != load->reason.code && is_shown(record, at_ms);
    if (!switches && !news)
        return;
    struct replay_event *event = add_event(record, at_ms, index, switches);
    struct text text = text_in(event->text, sizeof(event->text));
    int other = reason_load(&decision->reason);
    reason_write(&decision->reason,
                       other >= 0 && other < record->settings->rules.load_count
                           ? record->settings->names[other].name
                           : NULL,
                       &text);
    load->reason = decision->reason;
}

static void write_missing(struct text *text, enum floor_measure measure, int64_t number)
{
    bool energy = measure == FLOOR_ENERGY;
    quantity_write(energy ? QUANTITY_ENERGY_MWH : QUANTITY_DURATION_MS,
                   energy ? number : number / MS_PER_MIN * MS_PER_MIN, text);
}

/* ---- what was really taken ---------------------------------------------------------------- */

/* By the set-point at nominal voltage a few percent go astray: those count as taken. */
#define TAKEN_SHARE 0.9

bool replay_is_blind(const struct load_settings *load)
{
    return kind_of(load)->needs_power && !load->metered;
}

static int64_t next_deadline_ms(const struct replay_record *record,
                                const struct floor_settings *floor, int64_t at_ms)
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

static void take_floors(struct replay_record *record, int load, int64_t from_ms, int64_t to_ms,
                        double w)
{
    const struct load_settings *settings = &record->settings->loads[load];
    for (int k = 0; k < settings->floor_count && replay_is_blind(settings); k++) {
        struct replay_took *took = &record->load[load].took[k];
        if (from_ms >= took->until_ms)
            *took = (struct replay_took){
                .until_ms = next_deadline_ms(record, &settings->floor[k], from_ms)};
        took->j += w * (double)(to_ms - from_ms) / MS_PER_S;
        took->drew_ms += w > 1 ? to_ms - from_ms : 0;
    }
}

static bool was_taken(const struct replay_record *record, int load, uint8_t index)
{
    const struct floor_settings *floor = &record->settings->loads[load].floor[index];
    const struct replay_took *took = &record->load[load].took[index];
    double amount = TAKEN_SHARE * (double)floor->amount;
    if (!replay_is_blind(&record->settings->loads[load]))
        return true;
    return floor->measure == FLOOR_ENERGY ? took->j * 1000 / J_PER_WH >= amount
                                          : (double)took->drew_ms >= amount;
}

static void write_taken(const struct replay_took *took, const struct floor_settings *floor,
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

static void note_floor(struct replay_record *record, int64_t at_ms, const struct rules_event *told,
                       struct replay_day *day)
{
    bool met = told->kind != EVENT_FLOOR_MISSED; /* whether it drew, the house itself tells */
    uint8_t index = met ? (uint8_t)told->number : told->floor;
    const struct floor_settings *floor = &record->settings->loads[told->load].floor[index];
    struct replay_event *event = add_event(record, at_ms, told->load, true);
    struct text text = text_in(event->text, sizeof(event->text));
    bool taken = was_taken(record, told->load, index);
    text_add(&text, "floor %u ", index + 1u);
    if (!met) {
        text_add(&text, "missed by ");
        write_missing(&text, floor->measure, told->number);
    } else if (taken) {
        text_add(&text, "met");
    } else {
        write_taken(&record->load[told->load].took[index], floor, &text);
    }
    day->load[told->load].kept += met && taken;
    day->load[told->load].untaken += met && !taken;
    day->load[told->load].missed += !met;
    if (floor->every_days > 0)
        record->load[told->load].took[index].until_ms = 0;
}

static void note_events(struct replay_record *record, const struct trial_span *span,
                        struct replay_day *day)
{
    for (int k = 0; k < span->event_count; k++) {
        const struct rules_event *told = &span->event[k];
        if (told->kind == EVENT_FLOOR_MET || told->kind == EVENT_FLOOR_MISSED ||
            told->kind == EVENT_FLOOR_UNPROVEN) {
            note_floor(record, span->from.ms, told, day);
        } else if (told->kind == EVENT_SATISFIED) {
            struct replay_event *event = add_event(record, span->from.ms, told->load, true);
            strcpy(event->text, told->number ? "possibly satisfied: it stopped drawing"
                                             : "satisfied: the thermostat has opened");
        }
    }
}

/* ---- days and hours --------------------------------------------------------------------- */

static struct replay_day *day_at(struct replay_record *record, int64_t at_ms)
{
    const struct zone *zone = record->home->zone;
    if (record->day_count > 0 && at_ms < record->day_end_ms)
        return &record->day[record->day_count - 1];
    int32_t day = local_of_wall(zone, (struct wall){at_ms}).day;
    record->day = grown(record->day, &record->day_room, record->day_count, sizeof(record->day[0]));
    record->day_end_ms = wall_of_local(zone, day + 1, 0).ms;
    struct replay_day *added = &record->day[record->day_count++];
    *added = (struct replay_day){.day = day, .top_least_c = NAN};
    return added;
}

/* Zones change at whole quarters of an hour, so hours may be cut there. */
static int32_t hour_at(struct replay_record *record, int64_t at_ms)
{
    if (at_ms >= record->hour_end_ms) {
        const int64_t quarter_ms = 15 * MS_PER_MIN;
        record->hour = local_of_wall(record->home->zone, (struct wall){at_ms}).second / 3600;
        record->hour_end_ms = (at_ms / quarter_ms + 1) * quarter_ms;
    }
    return record->hour;
}

/* ---- a part of a span --------------------------------------------------------------------- */

struct part {
    int64_t from_ms, to_ms;
    double seconds, spare_w, sun_share;
};

static void take_load(struct replay_record *record, struct replay_day *day, int index,
                      const struct trial_span *span, const struct part *part)
{
    struct replay_sum *sum = &day->load[index];
    struct replay_load *load = &record->load[index];
    double j = span->load_w[index] * part->seconds;
    sum->sun_j += j * part->sun_share;
    sum->grid_j += j * (1 - part->sun_share);
    sum->draws_ms += span->load_w[index] > 1 ? part->to_ms - part->from_ms : 0;
    take_floors(record, index, part->from_ms, part->to_ms, span->load_w[index]);
    if (!span->decision[index].on)
        return;
    sum->on_ms += part->to_ms - part->from_ms;
    struct replay_run *run = &load->run[load->run_count - 1];
    run->to_ms = part->to_ms;
    run->sun_j += j * part->sun_share;
    run->grid_j += j * (1 - part->sun_share);
}

static void add_to_piece(struct day_track *track, const struct part *part, double spare_j,
                         double grid_j, bool on)
{
    struct day_piece *piece = &track->piece[track->count - 1];
    piece->to_ms = part->to_ms;
    piece->spare_mwh += llround(spare_j * 1000 / J_PER_WH);
    piece->grid_mwh += llround(grid_j * 1000 / J_PER_WH);
    piece->on_ms += on ? part->to_ms - part->from_ms : 0;
}

static void begin_piece(struct day_track *track, int64_t from_ms)
{
    track->piece = grown(track->piece, &track->room, track->count, sizeof(track->piece[0]));
    track->piece[track->count++] = (struct day_piece){.from_ms = from_ms, .to_ms = from_ms};
}

static void begin_pieces(struct replay_record *record, int64_t from_ms)
{
    struct day *sheet = record->sheet;
    begin_piece(&sheet->grid, from_ms);
    begin_piece(&sheet->spare, from_ms);
    begin_piece(&sheet->solar, from_ms);
    for (size_t k = 0; k < sheet->load_count; k++)
        begin_piece(&sheet->load[k], from_ms);
    record->piece_end_ms = (from_ms / PIECE_MS + 1) * PIECE_MS;
}

static void take_sheet(struct replay_record *record, const struct trial_span *span,
                       const struct part *part)
{
    struct day *sheet = record->sheet;
    if (part->from_ms < sheet->begin_ms || part->from_ms >= sheet->end_ms)
        return;
    if (part->from_ms >= record->piece_end_ms)
        begin_pieces(record, part->from_ms);
    double s = part->seconds;
    add_to_piece(&sheet->grid, part, fmax(0, -span->grid_w) * s, fmax(0, span->grid_w) * s, false);
    add_to_piece(&sheet->spare, part, part->spare_w * s, 0, false);
    add_to_piece(&sheet->solar, part, span->solar_w * s, 0, false);
    for (size_t k = 0; k < sheet->load_count; k++) {
        double j = span->load_w[k] * s;
        add_to_piece(&sheet->load[k], part, j * part->sun_share, j * (1 - part->sun_share),
                     span->decision[k].on);
    }
    sheet->known_ms = part->to_ms;
}

static void take_part(struct replay_record *record, const struct trial_span *span,
                      const struct part *part)
{
    struct replay_day *day = day_at(record, part->from_ms);
    day->use_j += span->use_w * part->seconds;
    day->solar_j += span->solar_w * part->seconds;
    *(span->grid_w > 0 ? &day->import_j : &day->export_j) += fabs(span->grid_w) * part->seconds;
    day->spare_j[hour_at(record, part->from_ms)] += part->spare_w * part->seconds;
    for (int k = 0; k < record->home->tank_count; k++)
        day->top_least_c = fmin(day->top_least_c, span->top_c[k]); /* fmin leaves NAN out */
    for (int k = 0; k < span->load_count; k++)
        take_load(record, day, k, span, part);
    if (record->sheet)
        take_sheet(record, span, part);
}

/* ---- a span ------------------------------------------------------------------------------ */

static void begin_runs(struct replay_record *record, const struct trial_span *span)
{
    struct replay_day *day = day_at(record, span->from.ms);
    for (uint16_t k = 0; k < span->load_count; k++) {
        struct replay_load *load = &record->load[k];
        const struct decision *decision = &span->decision[k];
        note_reason(record, span->from.ms, k, decision);
        if (decision->on && !load->on) {
            load->run = grown(load->run, &load->run_room, load->run_count, sizeof(load->run[0]));
            load->run[load->run_count++] = (struct replay_run){.from_ms = span->from.ms};
            day->load[k].starts++;
        }
        load->on = decision->on;
    }
    note_events(record, span, day);
}

static int64_t earlier(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static int64_t end_of_part(struct replay_record *record, int64_t from_ms, int64_t to_ms)
{
    day_at(record, from_ms);
    hour_at(record, from_ms);
    to_ms = earlier(to_ms, earlier(record->day_end_ms, record->hour_end_ms));
    return record->sheet ? earlier(to_ms, (from_ms / PIECE_MS + 1) * PIECE_MS) : to_ms;
}

void replay_record_span(void *context, const struct trial_span *span)
{
    struct replay_record *record = context;
    struct part part = {.from_ms = span->from.ms};
    double loads_w = 0;
    for (int k = 0; k < span->load_count; k++)
        loads_w += span->load_w[k];
    part.spare_w = fmax(0, span->solar_w - span->use_w);
    part.sun_share = loads_w <= part.spare_w ? 1 : part.spare_w / loads_w;
    begin_runs(record, span);
    while (part.from_ms < span->to.ms) {
        part.to_ms = end_of_part(record, part.from_ms, span->to.ms);
        part.seconds = (double)(part.to_ms - part.from_ms) / MS_PER_S;
        take_part(record, span, &part);
        part.from_ms = part.to_ms;
    }
}

struct replay_sum replay_sum(const struct replay_record *record, int load, size_t from, size_t to)
{
    struct replay_sum all = {0};
    for (size_t k = from; k < to; k++) {
        const struct replay_sum *sum = &record->day[k].load[load];
        all.sun_j += sum->sun_j;
        all.grid_j += sum->grid_j;
        all.on_ms += sum->on_ms;
        all.draws_ms += sum->draws_ms;
        all.starts += sum->starts;
        all.kept += sum->kept;
        all.missed += sum->missed;
        all.untaken += sum->untaken;
    }
    return all;
}
