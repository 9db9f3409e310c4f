/* turn.c - one turn: what happened since, what is known now, who runs.
 *
 * The sections of TABLE.md in their order. All state between turns is in the
 * memory; all that is shared within a turn is in struct turn (turn.h). */
#include "turn.h"

#include "ahead.h"
#include "booking.h"
#include "calendar.h"
#include "decide.h"
#include "draw.h"
#include "floor.h"
#include "orders.h"
#include "spare.h"
#include "supply.h"

static struct turn turn_of(const struct rules_settings *settings, struct rules_memory *memory,
                           const struct rules_input *input, struct decision decisions[],
                           struct rules_outcome *outcome)
{
    struct moment now = input->now, last = memory->begun ? memory->last : now;
    int64_t dt = now.mono.ms - last.mono.ms;
    const struct reading *reading = input->reading;
    return (struct turn){
        .settings = settings,
        .memory = memory,
        .input = input,
        .decisions = decisions,
        .outcome = outcome,
        .t = now.mono.ms,
        .w = now.wall.ms,
        .dt = dt,
        .stepped_ms = now.wall.ms - last.wall.ms - dt,
        .trusted = memory->trusted || now.wall_trusted,
        .look_back = now.wall.ms - last.wall.ms < dt || memory->unchecked,
        .fresh = reading->grid.quality == READING_FRESH && (reading->has & HAS_GRID_POWER),
        .until = INT64_MAX,
    };
}

/* What was imported at this turn, for the booking of the time to come. */
static int32_t import_w(const struct turn *turn)
{
    const struct reading *reading = turn->input->reading;
    if (!turn->fresh)
        return -1;
    int64_t sum_w = at_least_0(reading->grid_power_w);
    if (battery_is_fresh(reading))
        sum_w += at_least_0(-(int64_t)reading->battery_power_w);
    return (int32_t)minimum_64(sum_w, INT32_MAX);
}

/* The cache holds within its span; and becoming trusted begins one. */
static bool calendar_is_due(const struct turn *turn, bool was_trusted)
{
    const struct rules_memory *memory = turn->memory;
    if (!turn->trusted)
        return true;
    return !was_trusted || turn->w < memory->calendar_from.ms ||
           turn->w >= memory->calendar_until.ms;
}

void rules_turn(const struct rules_settings *settings, struct rules_memory *memory,
                const struct rules_input *input, struct decision decisions[],
                struct rules_outcome *outcome)
{
    outcome->event_count = 0;
    outcome->spare_w = INT32_MIN;
    struct turn turn = turn_of(settings, memory, input, decisions, outcome);
    for (uint16_t i = 0; i < settings->load_count; i++)
        decisions[i].reason.code = REASON_NONE;
    bool was_trusted = memory->trusted;
    book_time(&turn);
    book_day(&turn);
    if (turn.trusted && turn.look_back)
        look_back(&turn);
    obey_orders(&turn);
    take_confirmations(&turn);
    watch_draws(&turn);
    memory->last = input->now;
    if (calendar_is_due(&turn, was_trusted))
        keep_calendar(&turn);
    keep_floors(&turn);
    count_spare(&turn);
    if (memory->learns)
        weigh_heat(&turn);
    keep_supply(&turn);
    decide(&turn);
    memory->begun = true;
    memory->unchecked = memory->unchecked && !turn.trusted;
    memory->last_import_w = import_w(&turn);
    outcome->holds_until.ms = turn.until;
}

const struct draw_view *rules_draw(const struct rules_memory *memory, uint16_t load)
{
    return &memory->loads[load].draw.view;
}
