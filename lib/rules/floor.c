/* floor.c - what has been promised by when, and whether it must be done now.
 *
 * A floor has a period from deadline to deadline and counts what was done in it.
 * What is still needed, the rests that must be waited for and a reserve have to fit
 * into the permitted time that is left; the difference is its slack. Slack runs out
 * at the latest safe start, and from then on the floor is due. The same sum over
 * only those hours that are no dearer than the present one says whether the present
 * hour belongs to the cheapest that still keep it. */
#include "floor.h"

#include "calendar.h"
#include "load.h"

static int64_t deadline_after(const struct turn *turn, const struct floor_settings *floor,
                              int64_t w, bool *found_before, int64_t *before)
{
    const struct zone *zone = &turn->settings->zone;
    uint8_t weekdays = floor->weekdays ? floor->weekdays : WEEKDAYS_ALL;
    int32_t today = local_of_wall(zone, (struct wall){w}).day;
    *found_before = false;
    for (int32_t day = today - 8; day <= today + 8; day++) {
        if (!(weekdays & (1u << weekday_of_days(day))))
            continue;
        int64_t deadline = wall_of_local(zone, day, floor->by_s).ms;
        if (deadline > w)
            return deadline;
        *found_before = true;
        *before = deadline;
    }
    return w + MS_PER_DAY; /* not reached: a week has every weekday */
}

static int64_t days_ahead(const struct turn *turn, const struct floor_settings *floor, int32_t days)
{
    int32_t today = local_of_wall(&turn->settings->zone, (struct wall){turn->w}).day;
    return wall_of_local(&turn->settings->zone, today + days, floor->by_s).ms;
}

static void forget_done(struct floor_memory *floor)
{
    floor->done = floor->unproven = 0;
    floor->blind = floor->met = floor->extended = floor->due = false;
    for (int k = 0; k < DENIED_COUNT; k++)
        floor->denied_ms[k] = 0;
}

/* The period that holds at this turn; keeps what is done. */
static void enter_period(struct turn *turn, const struct floor_settings *settings,
                         struct floor_memory *floor, bool after_missing)
{
    bool found_before;
    int64_t before = turn->w;
    struct floor_settings any_day = *settings;
    if (settings->every_days)
        any_day.weekdays = WEEKDAYS_ALL;
    int64_t next = deadline_after(turn, &any_day, turn->w, &found_before, &before);
    bool afresh = settings->every_days && !after_missing;
    floor->begun = true;
    floor->elapsed = false;
    floor->start_ms = settings->every_days ? turn->w : before;
    floor->deadline_ms = afresh ? days_ahead(turn, settings, settings->every_days) : next;
}

/* The clock leaves the period. Should it come back, the period goes on. An extended one was
 * left before, by the step that extended it. `done`: what will not count in the next one. */
static void remember_left(struct floor_memory *floor, int64_t done)
{
    if (floor->extended) {
        floor->left.met = floor->met;
        floor->left.blind = floor->blind;
        floor->left.done = done;
        floor->left.unproven = floor->unproven;
        return;
    }
    floor->left = (struct floor_left){.known = true,
                                      .met = floor->met,
                                      .blind = floor->blind,
                                      .unproven = floor->unproven,
                                      .start_ms = floor->start_ms,
                                      .deadline_ms = floor->deadline_ms,
                                      .done = done};
}

/* The clock is in the period again that it left: with what was done in it and since. */
static void take_back(struct floor_memory *floor)
{
    const struct floor_left left = floor->left;
    int64_t done = floor->done, unproven = floor->unproven;
    bool met = floor->extended && floor->met;
    bool blind = left.met ? left.blind : met && floor->blind;
    forget_done(floor);
    floor->start_ms = left.start_ms;
    floor->deadline_ms = left.deadline_ms;
    floor->done = left.done + done;
    floor->unproven = left.unproven + unproven;
    floor->met = left.met || met;
    floor->blind = blind;
    floor->left.known = false;
}

static void enter_spell(const struct floor_settings *settings, struct floor_memory *floor,
                        int64_t start_ms)
{
    int64_t days = settings->every_days ? settings->every_days : 1;
    floor->begun = true;
    floor->elapsed = true;
    floor->start_ms = start_ms;
    floor->deadline_ms = start_ms + days * MS_PER_DAY;
}

static int64_t floor_need_ms(const struct load_settings *load, const struct load_memory *memory,
                             uint8_t k)
{
    const struct floor_settings *settings = &load->floor[k];
    int64_t done = memory->floor[k].done;
    int64_t power_w = maximum_64(1, load_most_w(load, memory));
    switch (settings->measure) {
    case FLOOR_ENERGY:
        return (at_least_0(settings->amount * 3600 - done) + power_w - 1) / power_w;
    case FLOOR_SATISFIED:
        return maximum_64(LEAST_HEAT_UP_MS, settings->amount - done);
    default:
        return at_least_0(settings->amount - done);
    }
}

/* Before its next start; while it is on, what a stop now would make it wait. */
static int64_t floor_wait_ms(const struct turn *turn, uint16_t index)
{
    return maximum_64(load_min_off_left_ms(turn, index), load_starts_wait_ms(turn, index));
}

static int64_t open_now_ms(const struct turn *turn, const struct load_memory *memory,
                           const struct floor_memory *floor)
{
    int64_t until = minimum_64(turn->memory->calendar_until.ms, floor->deadline_ms);
    return memory->open ? at_least_0(until - turn->w) : 0;
}

/* Without a trusted clock a day is 24 h counted from where trust ended. */
static int64_t elapsed_left_ms(const struct turn *turn, uint16_t index,
                               const struct floor_memory *floor)
{
    int64_t daily_max_ms = turn->settings->loads[index].daily_max_ms;
    int64_t into_day_ms = (turn->t - turn->memory->untrusted_since.ms) % MS_PER_DAY;
    int64_t end = minimum_64(turn->t - into_day_ms + MS_PER_DAY, floor->deadline_ms);
    int64_t left_ms = minimum_64(end - turn->t, at_least_0(load_daily_left_ms(turn, index)));
    for (int64_t from = end; from < floor->deadline_ms; from = end) {
        end = minimum_64(from + MS_PER_DAY, floor->deadline_ms);
        left_ms += minimum_64(end - from, daily_max_ms ? daily_max_ms : ENDLESS_MS);
    }
    return left_ms;
}

static int64_t floor_left_ms(const struct turn *turn, uint16_t index, uint8_t k)
{
    const struct load_memory *memory = &turn->memory->loads[index];
    const struct floor_memory *floor = &memory->floor[k];
    if (floor->elapsed)
        return memory->open ? elapsed_left_ms(turn, index, floor) : 0;
    int64_t today_ms = open_now_ms(turn, memory, floor) + floor->open_today_ms;
    int64_t daily_left_ms = at_least_0(load_daily_left_ms(turn, index));
    return minimum_64(today_ms, daily_left_ms) + floor->open_later_ms;
}

static int64_t run_needed_ms(const struct turn *turn, uint16_t index, uint8_t k)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    int64_t need_ms = floor_need_ms(load, memory, k);
    return load_is_on(memory) ? need_ms : maximum_64(need_ms, load->min_on_ms);
}

static int64_t floor_slack_ms(const struct turn *turn, uint16_t index, uint8_t k, int64_t left_ms)
{
    const struct floor_settings *settings = &turn->settings->loads[index].floor[k];
    return left_ms - settings->reserve_ms - floor_wait_ms(turn, index) -
           run_needed_ms(turn, index, k);
}

/* An unsure one lets a floor of hours rest, but says of none that it was kept. */
static bool opened_in_period(const struct turn *turn, const struct load_memory *memory,
                             const struct floor_settings *settings,
                             const struct floor_memory *floor)
{
    const struct draw_view *draw = &memory->draw.view;
    bool whole_period = settings->measure == FLOOR_SATISFIED;
    int64_t from = floor->deadline_ms - SATISFIED_COUNTS_MS;
    if (whole_period || from < floor->start_ms)
        from = floor->start_ms;
    int64_t opened = floor->elapsed ? draw->opened_at.mono.ms : draw->opened_at.wall.ms;
    if (draw->has_opened && opened > floor->start_ms && opened >= from)
        return !whole_period || !draw->unsure;
    int64_t now = floor->elapsed ? turn->t : turn->w;
    bool satisfied = memory->draw.satisfied && !draw->supposed && !draw->unexplained;
    return !whole_period && satisfied && now > floor->start_ms && now >= from;
}

/* Seen to draw for nine tenths of it: a meter that was away for a moment is no doubt. */
static bool is_proven(const struct floor_settings *settings, const struct floor_memory *floor)
{
    int64_t amount = settings->measure == FLOOR_ENERGY ? settings->amount * 3600 : settings->amount;
    return 10 * (floor->done - floor->unproven) >= 9 * amount;
}

/* A store that was heated through a day ago draws nothing at a start as a dead element does. */
static bool is_hot_for_sure(const struct turn *turn, const struct draw_view *draw)
{
    return !draw->unsure && turn->t - draw->opened_at.mono.ms <= SATISFIED_COUNTS_MS;
}

static void look_whether_met(struct turn *turn, uint16_t index, uint8_t k)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct floor_settings *settings = &load->floor[k];
    const struct load_memory *memory = &turn->memory->loads[index];
    struct floor_memory *floor = &turn->memory->loads[index].floor[k];
    bool enough = settings->measure != FLOOR_SATISFIED && floor_need_ms(load, memory, k) == 0;
    bool opened = opened_in_period(turn, memory, settings, floor);
    if (!enough && !opened)
        return;
    floor->met = true;
    bool sure = settings->measure == FLOOR_SATISFIED ||
                (opened && is_hot_for_sure(turn, &memory->draw.view));
    floor->blind = !sure && !is_proven(settings, floor);
    turn_event(turn, floor->blind ? EVENT_FLOOR_UNPROVEN : EVENT_FLOOR_MET, index, k);
}

static void judge(struct turn *turn, uint16_t index, uint8_t k)
{
    const struct floor_settings *settings = &turn->settings->loads[index].floor[k];
    struct floor_memory *floor = &turn->memory->loads[index].floor[k];
    if (!floor->met)
        look_whether_met(turn, index, k);
    if (!floor->met || !settings->every_days)
        return;
    forget_done(floor);
    floor->left.known = false; /* no clock has left this one */
    if (floor->elapsed)
        enter_spell(settings, floor, turn->t);
    else
        enter_period(turn, settings, floor, false);
    calendar_floor(turn, index, k);
}

/* It may have opened in the period, and that was not proven until its end. */
static bool unsure_in_period(const struct turn *turn, uint16_t index,
                             const struct floor_memory *floor)
{
    const struct draw_memory *draw = &turn->memory->loads[index].draw;
    const struct moment *opened = &draw->view.opened_at, *supposed = &draw->supposed_at;
    int64_t opened_ms = floor->elapsed ? opened->mono.ms : opened->wall.ms;
    int64_t supposed_ms = floor->elapsed ? supposed->mono.ms : supposed->wall.ms;
    bool unsure = draw->view.has_opened && draw->view.unsure && opened_ms > floor->start_ms;
    return unsure || (draw->view.supposed && supposed_ms > floor->start_ms);
}

static void tell_missed(struct turn *turn, uint16_t index, uint8_t k)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct floor_memory *floor = &turn->memory->loads[index].floor[k];
    if (unsure_in_period(turn, index, floor)) {
        turn_event(turn, EVENT_FLOOR_UNPROVEN, index, k);
        return;
    }
    int64_t missing = floor_need_ms(load, &turn->memory->loads[index], k);
    if (load->floor[k].measure == FLOOR_ENERGY)
        missing = load->floor[k].amount - floor->done / 3600;
    struct rules_event *event = turn_event(turn, EVENT_FLOOR_MISSED, index, missing);
    if (!event)
        return;
    event->floor = k;
    for (int cause = 0; cause < DENIED_COUNT; cause++)
        event->denied_ms[cause] = floor->denied_ms[cause];
}

/* The wall clock was set forward over the deadline: the time was never there. */
static bool stepped_over(const struct turn *turn, const struct floor_memory *floor)
{
    return !floor->extended && turn->stepped_ms > CLOCK_STEP_MS &&
           turn->w - turn->stepped_ms < floor->deadline_ms;
}

/* It had been set back, and is right again. */
static bool stepped_into_left(const struct turn *turn, const struct floor_memory *floor)
{
    return !floor->elapsed && floor->left.known && turn->stepped_ms > CLOCK_STEP_MS &&
           turn->w >= floor->left.start_ms && turn->w < floor->left.deadline_ms;
}

/* All that the run may still take, from now. */
static int64_t extension_ms(const struct turn *turn, uint16_t index, uint8_t k)
{
    return turn->w + run_needed_ms(turn, index, k) +
           turn->settings->loads[index].floor[k].reserve_ms + floor_wait_ms(turn, index);
}

static void pass_deadline(struct turn *turn, uint16_t index, uint8_t k)
{
    const struct floor_settings *settings = &turn->settings->loads[index].floor[k];
    struct floor_memory *floor = &turn->memory->loads[index].floor[k];
    judge(turn, index, k); /* what was booked in this very turn still counts */
    if ((floor->elapsed ? turn->t : turn->w) < floor->deadline_ms)
        return; /* it was met, and its next period has begun */
    if (stepped_into_left(turn, floor)) {
        take_back(floor);
        calendar_floor(turn, index, k);
        return;
    }
    if (!floor->met && !floor->elapsed && stepped_over(turn, floor)) {
        remember_left(floor, 0);
        floor->extended = true;
        floor->deadline_ms = extension_ms(turn, index, k);
        calendar_floor(turn, index, k);
        return;
    }
    bool missed = !floor->met;
    if (missed)
        tell_missed(turn, index, k);
    if (!floor->elapsed)
        remember_left(floor, floor->done);
    forget_done(floor);
    if (floor->elapsed)
        enter_spell(settings, floor, floor->deadline_ms);
    else
        enter_period(turn, settings, floor, missed);
    calendar_floor(turn, index, k);
}

/* The latest deadline that a period which holds now can have. */
static int64_t latest_deadline_ms(const struct turn *turn, uint16_t index, uint8_t k)
{
    const struct floor_settings *settings = &turn->settings->loads[index].floor[k];
    const struct floor_memory *floor = &turn->memory->loads[index].floor[k];
    bool found_before;
    int64_t before;
    if (floor->extended)
        return extension_ms(turn, index, k);
    if (settings->every_days)
        return days_ahead(turn, settings, settings->every_days);
    return deadline_after(turn, settings, turn->w, &found_before, &before);
}

/* A clock that was wrong has left periods that lie too far ahead: no floor may wait for them. */
static void pull_back(struct turn *turn, uint16_t index, uint8_t k)
{
    const struct floor_settings *settings = &turn->settings->loads[index].floor[k];
    struct floor_memory *floor = &turn->memory->loads[index].floor[k];
    if (!floor->begun || floor->elapsed)
        return;
    bool back = floor->left.known && turn->w < floor->left.deadline_ms;
    if (back)
        take_back(floor);
    int64_t latest_ms = latest_deadline_ms(turn, index, k);
    bool far = floor->deadline_ms > latest_ms;
    if (far && floor->extended) {
        floor->deadline_ms = latest_ms;
    } else if (far) {
        remember_left(floor, 0);
        floor->met = false;
        enter_period(turn, settings, floor, false);
    }
    if (back || far)
        calendar_floor(turn, index, k);
}

/* False: no floor is pursued now. */
static bool keep_period(struct turn *turn, uint16_t index, uint8_t k)
{
    const struct floor_settings *settings = &turn->settings->loads[index].floor[k];
    struct floor_memory *floor = &turn->memory->loads[index].floor[k];
    if (turn->trusted) {
        if (turn->look_back)
            pull_back(turn, index, k);
        if (!floor->begun || floor->elapsed) {
            floor->left.known = false;
            enter_period(turn, settings, floor, false);
            calendar_floor(turn, index, k);
        } else if (turn->w >= floor->deadline_ms) {
            pass_deadline(turn, index, k);
        }
        return true;
    }
    int64_t spells_begin = turn->memory->untrusted_since.ms + UNTRUSTED_PATIENCE_MS;
    if (turn->t < spells_begin) {
        turn_soon(turn, spells_begin);
        return false;
    }
    if (!floor->elapsed) {
        forget_done(floor);
        enter_spell(settings, floor, spells_begin);
    } else if (turn->t >= floor->deadline_ms) {
        pass_deadline(turn, index, k);
    }
    turn_soon(turn, floor->deadline_ms);
    return true;
}

/* A floor that is due wins slack back, at most so many ms each ms, where its time left is bound
 * by closed hours or the daily maximum: a rest runs out, and what is drawn meanwhile, as by a
 * contact that stays closed, does its part of the need. */
static int64_t slack_won_per_ms(const struct load_settings *load, const struct load_memory *memory)
{
    int64_t draw_w = memory->draw.view.draw_w;
    return draw_w > 0 ? 2 + draw_w / maximum_64(1, load_most_w(load, memory)) : 1;
}

static int64_t until_slack_turns_ms(const struct load_settings *load,
                                    const struct load_memory *memory, int64_t slack_ms)
{
    int64_t won = slack_won_per_ms(load, memory);
    return slack_ms > 0 ? slack_ms : (won - slack_ms) / won;
}

/* A met time must be looked at again when the floor could be met by a thermostat
 * that has been open for long, and when the present run will have met it. */
static void note_edges(struct turn *turn, uint16_t index, uint8_t k, int64_t slack_ms)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    const struct floor_memory *floor = &memory->floor[k];
    int64_t now = floor->elapsed ? turn->t : turn->w;
    turn_soon(turn, turn->t + until_slack_turns_ms(load, memory, slack_ms));
    turn_soon(turn, turn->t + floor->deadline_ms - SATISFIED_COUNTS_MS - now);
    turn_soon(turn, turn->t + floor_need_ms(load, memory, k));
    int64_t draw_w = memory->draw.view.draw_w; /* may be more than the power that need goes by */
    if (load->floor[k].measure == FLOOR_ENERGY && draw_w > 0)
        turn_soon(turn,
                  turn->t + (load->floor[k].amount * 3600 - floor->done + draw_w - 1) / draw_w);
    turn_soon(turn, turn->t + floor->start_ms - now + 1);
}

/* What it will take once more after a stop: a draw that is vague began on a tank that was not cold.
 */
static int64_t after_rest_ms(const struct load_settings *load, const struct load_memory *memory,
                             uint8_t k)
{
    int64_t need_ms = floor_need_ms(load, memory, k);
    if (load->floor[k].measure == FLOOR_SATISFIED)
        need_ms = maximum_64(LEAST_HEAT_UP_MS, need_ms / REST_IN);
    return maximum_64(need_ms, load->min_on_ms);
}

/* Without touching what it is kept by but the reserve, which is there for such things. */
static void look_whether_it_may_rest(struct turn *turn, uint16_t index, uint8_t k, int64_t left_ms)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    if (!memory->draw.view.vague)
        return;
    int64_t free_ms = left_ms - floor_wait_ms(turn, index) - after_rest_ms(load, memory, k);
    memory->notes.may_rest &= free_ms >= 0;
    turn_soon(turn, turn->t + until_slack_turns_ms(load, memory, free_ms + 1));
}

static void weigh(struct turn *turn, uint16_t index, uint8_t k)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    struct floor_memory *floor = &memory->floor[k];
    int64_t now = floor->elapsed ? turn->t : turn->w;
    turn_soon(turn, turn->t + floor->deadline_ms - MS_PER_DAY - now); /* from then on heat counts */
    floor->due = floor->due && !floor->met;
    if (floor->met)
        return;
    int64_t left_ms = floor_left_ms(turn, index, k);
    int64_t slack_ms = floor_slack_ms(turn, index, k, left_ms);
    /* Once begun it goes on until met: an element stronger than its nameplate wins slack
     * back, and would be switched off and on for it. */
    floor->due = slack_ms <= 0 || (floor->due && load_is_on(memory));
    if (floor->due && memory->notes.due_floor < 0)
        memory->notes.due_floor = (int8_t)k;
    if (floor->due)
        look_whether_it_may_rest(turn, index, k, left_ms);
    note_edges(turn, index, k, slack_ms);
    if (load->floor[k].grid != FLOOR_IN_CHEAPEST_HOURS)
        return;
    int64_t cheap_ms = floor->elapsed ? floor_left_ms(turn, index, k)
                                      : open_now_ms(turn, memory, floor) + floor->cheap_after_ms;
    int64_t cheap_slack_ms = floor_slack_ms(turn, index, k, cheap_ms);
    if (cheap_slack_ms <= 0 && memory->notes.cheap_floor < 0)
        memory->notes.cheap_floor = (int8_t)k;
    turn_soon(turn, turn->t + cheap_slack_ms);
}

void keep_floors(struct turn *turn)
{
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        struct load_memory *memory = &turn->memory->loads[i];
        memory->notes.due_floor = memory->notes.cheap_floor = -1;
        memory->notes.may_rest = true;
        for (uint8_t k = 0; k < turn->settings->loads[i].floor_count; k++) {
            if (keep_period(turn, i, k)) {
                judge(turn, i, k);
                weigh(turn, i, k);
            } else {
                memory->floor[k].due = false;
            }
        }
    }
    if (turn->trusted)
        turn_soon(turn, turn->t + turn->memory->calendar_until.ms - turn->w);
}

/* As `left` of section 6, as of a later moment; with the hours, which the cache of the
 * calendar knows for the present only. */
static int64_t permitted_from_ms(const struct turn *turn, uint16_t index, int64_t from,
                                 int64_t deadline)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct zone *zone = &turn->settings->zone;
    int32_t today = local_of_wall(zone, (struct wall){turn->w}).day;
    int64_t sum_ms = 0;
    while (from < deadline) {
        int32_t day = local_of_wall(zone, (struct wall){from}).day;
        int64_t to = minimum_64(wall_of_local(zone, day + 1, 0).ms, deadline);
        int64_t most_ms = day == today         ? at_least_0(load_daily_left_ms(turn, index))
                          : load->daily_max_ms ? load->daily_max_ms
                                               : ENDLESS_MS;
        int64_t open_ms = hours_open_ms(&load->hours, zone, (struct wall){from}, (struct wall){to});
        sum_ms += minimum_64(open_ms, most_ms);
        from = to;
    }
    return sum_ms;
}

/* The last moment at which what is needed still fits: closed hours are no time to start in.
 * What is permitted only falls as time goes by, so it is found by halving. */
static int64_t latest_start(const struct turn *turn, uint16_t index, uint8_t k, int64_t slack_ms)
{
    const struct floor_memory *floor = &turn->memory->loads[index].floor[k];
    int64_t now = floor->elapsed ? turn->t : turn->w;
    if (slack_ms <= 0 || floor->elapsed || !turn->trusted || !floor->begun)
        return now + slack_ms;
    int64_t needed_ms =
        turn->settings->loads[index].floor[k].reserve_ms + run_needed_ms(turn, index, k);
    int64_t fits = now, late = maximum_64(floor->deadline_ms, now);
    while (late - fits > MS_PER_S) {
        int64_t middle = fits + (late - fits) / 2;
        if (permitted_from_ms(turn, index, middle, floor->deadline_ms) >= needed_ms)
            fits = middle;
        else
            late = middle;
    }
    return (fits + MS_PER_S / 2) / MS_PER_S * MS_PER_S;
}

struct floor_view floor_so_far(const struct load_settings *load, const struct load_memory *memory,
                               bool trusted, uint8_t k)
{
    const struct floor_settings *settings = &load->floor[k];
    const struct floor_memory *floor = &memory->floor[k];
    bool energy = settings->measure == FLOOR_ENERGY;
    struct floor_view view = {
        .begun = floor->begun && floor->elapsed == !trusted,
        .met = floor->met,
        .blind = floor->met && floor->blind,
        .due = floor->due,
        .elapsed = floor->elapsed,
        .amount = settings->amount,
        .done = energy ? floor->done / 3600 : floor->done,
        .deadline_ms = floor->deadline_ms,
        .last = {.known = floor->left.known && !floor->extended,
                 .met = floor->left.met,
                 .blind = floor->left.met && floor->left.blind,
                 .deadline_ms = floor->left.deadline_ms,
                 .done = energy ? floor->left.done / 3600 : floor->left.done}};
    if (floor->met)
        view.left = 0;
    else if (settings->measure == FLOOR_SATISFIED)
        view.left = floor_need_ms(load, memory, k);
    else
        view.left = at_least_0(view.amount - view.done);
    return view;
}

struct floor_view rules_floor(const struct rules_settings *settings,
                              const struct rules_memory *memory, uint16_t load, uint8_t k)
{
    struct turn turn = {.settings = settings,
                        .memory = (struct rules_memory *)(uintptr_t)memory,
                        .t = memory->last.mono.ms,
                        .w = memory->last.wall.ms,
                        .trusted = memory->trusted};
    struct floor_view view =
        floor_so_far(&settings->loads[load], &memory->loads[load], memory->trusted, k);
    int64_t slack_ms = floor_slack_ms(&turn, load, k, floor_left_ms(&turn, load, k));
    view.latest_start_ms = latest_start(&turn, load, k, slack_ms);
    return view;
}
