/* naive_floors.c - the floors of TABLE.md's section 6, by counting minutes. */
#include "naive_inside.h"

enum {
    UNTRUSTED_PATIENCE = 30 * MS_PER_MIN,
    SATISFIED_COUNTS = 12 * MS_PER_HOUR,
    LEAST_HEATING = 10 * MS_PER_MIN,
};

/* ---- periods ---- */

static int64_t deadline_on(const struct naive *n, const struct floor_settings *s, int32_t day)
{
    return minutes_of_local(n->minutes, day, s->by_s);
}

static void begin_period(struct naive_floor *floor, int64_t start, int64_t deadline)
{
    floor->start = start;
    floor->deadline = deadline;
    floor->done = floor->unproven = 0;
    floor->blind = floor->met = floor->extended = floor->due = false;
}

/* The deadlines around now of a floor with weekdays. */
static void weekday_deadlines(const struct naive *n, const struct floor_settings *s,
                              int64_t *before, int64_t *after)
{
    int32_t today = minutes_at(n->minutes, n->w)->day;
    *before = 0;
    for (int32_t day = today - 8; day <= today + 8; day++) {
        if (!(s->weekdays >> ((day + 3) % 7) & 1))
            continue;
        int64_t deadline = deadline_on(n, s, day);
        if (deadline > n->w) {
            *after = deadline;
            return;
        }
        *before = deadline;
    }
}

static void enter_calendar(const struct naive *n, const struct floor_settings *s,
                           struct naive_floor *floor)
{
    if (s->every_days > 0) {
        floor->start = n->w;
        floor->deadline = deadline_on(n, s, minutes_at(n->minutes, n->w)->day + s->every_days);
    } else {
        weekday_deadlines(n, s, &floor->start, &floor->deadline);
    }
    floor->begun = true;
    floor->elapsed = false;
}

static int64_t period_length(const struct floor_settings *s)
{
    return (int64_t)MS_PER_DAY * (s->every_days > 0 ? s->every_days : 1);
}

/* After a met floor of every_days, or past a deadline. */
static void next_period(const struct naive *n, const struct floor_settings *s,
                        struct naive_floor *floor)
{
    bool met = floor->met;
    if (floor->elapsed) {
        if (met && s->every_days > 0)
            begin_period(floor, n->t, n->t + period_length(s));
        else
            begin_period(floor, floor->deadline, floor->deadline + MS_PER_DAY);
        return;
    }
    int64_t before = floor->deadline, after = 0;
    if (s->every_days == 0) {
        weekday_deadlines(n, s, &before, &after);
        if (floor->deadline > before)
            before = floor->deadline;
        begin_period(floor, before, after);
        return;
    }
    int32_t today = minutes_at(n->minutes, n->w)->day;
    if (met) {
        begin_period(floor, n->w, deadline_on(n, s, today + s->every_days));
        return;
    }
    after = deadline_on(n, s, today);
    begin_period(floor, before, after > n->w ? after : deadline_on(n, s, today + 1));
}

/* ---- what is missing ---- */

static int64_t need(const struct naive *n, int i, int f)
{
    const struct load_settings *s = &n->settings->loads[i];
    const struct floor_settings *fs = &s->floor[f];
    const struct naive_floor *floor = &n->load[i].floor[f];
    if (fs->measure == FLOOR_ENERGY) {
        int64_t p = naive_most(n, i);
        int64_t missing = fs->amount * 3600 - floor->done;
        return missing <= 0 ? 0 : (missing + p - 1) / p;
    }
    int64_t missing = fs->amount - floor->done;
    int64_t least = fs->measure == FLOOR_SATISFIED ? LEAST_HEATING : 0;
    return missing > least ? missing : least;
}

/* Or is satisfied, where that counts. */
static bool has_opened(const struct naive *n, int i, int f)
{
    const struct floor_settings *fs = &n->settings->loads[i].floor[f];
    const struct naive_load *l = &n->load[i];
    const struct naive_floor *floor = &l->floor[f];
    int64_t now = floor->elapsed ? n->t : n->w;
    int64_t opened = floor->elapsed ? l->view.opened_at.mono.ms : l->view.opened_at.wall.ms;
    int64_t from = floor->start;
    if (fs->measure != FLOOR_SATISFIED) {
        if (from < floor->deadline - SATISFIED_COUNTS)
            from = floor->deadline - SATISFIED_COUNTS;
        if (l->satisfied && !l->view.supposed && !l->view.unexplained && now >= from)
            return true;
    }
    if (fs->measure == FLOOR_SATISFIED && l->view.unsure)
        return false;
    return l->view.has_opened && opened > floor->start && opened >= from;
}

static bool is_met(const struct naive *n, int i, int f)
{
    bool timed = n->settings->loads[i].floor[f].measure != FLOOR_SATISFIED;
    return (timed && need(n, i, f) == 0) || has_opened(n, i, f);
}

static int64_t wait_before_run(const struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    const struct naive_load *l = &n->load[i];
    int64_t rest = s->min_off_ms;
    if (l->state == STATE_OFF)
        rest -= n->t - l->since;
    int64_t starts = naive_starts_wait(n, i);
    int64_t wait = rest > starts ? rest : starts;
    return wait > 0 ? wait : 0;
}

/* ---- time that is left ---- */

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static int64_t daily_maximum(const struct load_settings *s)
{
    return s->daily_max_ms == 0 ? NEVER : s->daily_max_ms;
}

/* Open time to the deadline, where the daily maximum allows it. */
static int64_t permitted(const struct naive *n, int i, const struct naive_floor *floor)
{
    int64_t sum = 0, of_day = 0;
    int64_t today = n->load[i].daily_left > 0 ? n->load[i].daily_left : 0;
    int32_t day = minutes_at(n->minutes, n->w)->day;
    for (int64_t at = n->w; at < floor->deadline;) {
        int64_t next = least((at / MS_PER_MIN + 1) * MS_PER_MIN, floor->deadline);
        const struct minute *minute = minutes_at(n->minutes, at);
        if (minute->day != day) {
            sum += least(of_day, today);
            of_day = 0;
            today = daily_maximum(&n->settings->loads[i]);
            day = minute->day;
        }
        if (minute->open >> i & 1)
            of_day += next - at;
        at = next;
    }
    return sum + least(of_day, today);
}

/* The same in spells of 24 h since the start, all of them open. */
static int64_t permitted_elapsed(const struct naive *n, int i, const struct naive_floor *floor)
{
    const struct load_settings *s = &n->settings->loads[i];
    if (s->hours.count > 0 && s->strict)
        return 0;
    int64_t sum = 0;
    int64_t today = n->load[i].daily_left > 0 ? n->load[i].daily_left : 0;
    int64_t spell_end = n->untrusted_since + (n->today + 1) * MS_PER_DAY;
    for (int64_t at = n->t; at < floor->deadline; spell_end += MS_PER_DAY) {
        int64_t next = least(spell_end, floor->deadline);
        sum += least(next - at, today);
        today = daily_maximum(s);
        at = next;
    }
    return sum;
}

/* Open time to the deadline at prices not above that of now. */
static int64_t cheap_time(const struct naive *n, int i, const struct naive_floor *floor)
{
    const struct load_settings *s = &n->settings->loads[i];
    if (floor->elapsed)
        return s->hours.count > 0 && s->strict ? 0 : floor->deadline - n->t;
    int32_t price = minutes_at(n->minutes, n->w)->price_micro;
    int64_t sum = 0;
    for (int64_t at = n->w; at < floor->deadline;) {
        int64_t next = least((at / MS_PER_MIN + 1) * MS_PER_MIN, floor->deadline);
        const struct minute *minute = minutes_at(n->minutes, at);
        if ((minute->open >> i & 1) && minute->price_micro <= price)
            sum += next - at;
        at = next;
    }
    return sum;
}

/* What has to fit in before the deadline: the run, the rest before it, the reserve. */
static int64_t room_taken(const struct naive *n, int i, int f)
{
    const struct load_settings *s = &n->settings->loads[i];
    int64_t run = need(n, i, f);
    bool on = n->load[i].state == STATE_ON || n->load[i].state == STATE_STARTING;
    if (!on && run < s->min_on_ms)
        run = s->min_on_ms;
    return s->floor[f].reserve_ms + wait_before_run(n, i) + run;
}

bool naive_may_rest(const struct naive *n, int i, int f)
{
    const struct load_settings *s = &n->settings->loads[i];
    const struct naive_floor *floor = &n->load[i].floor[f];
    int64_t run = need(n, i, f);
    if (s->floor[f].measure == FLOOR_SATISFIED)
        run = run / 3 > LEAST_HEATING ? run / 3 : LEAST_HEATING;
    if (run < s->min_on_ms)
        run = s->min_on_ms;
    int64_t left = floor->elapsed ? permitted_elapsed(n, i, floor) : permitted(n, i, floor);
    return left >= run + wait_before_run(n, i);
}

static void judge(struct naive *n, int i, int f)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_floor *floor = &n->load[i].floor[f];
    if (floor->met) {
        floor->due = false;
        return;
    }
    int64_t taken = room_taken(n, i, f);
    int64_t left = floor->elapsed ? permitted_elapsed(n, i, floor) : permitted(n, i, floor);
    bool goes_on =
        floor->due && (n->load[i].state == STATE_ON || n->load[i].state == STATE_STARTING);
    floor->due = left <= taken || goes_on;
    floor->cheap = s->floor[f].grid == FLOOR_IN_CHEAPEST_HOURS && cheap_time(n, i, floor) <= taken;
}

/* ---- one floor, one turn ---- */

static void leave(struct naive_floor *floor, int64_t done)
{
    if (!floor->extended) {
        floor->has_last = true;
        floor->last_start = floor->start;
        floor->last_deadline = floor->deadline;
    }
    floor->last_met = floor->met;
    floor->last_blind = floor->blind;
    floor->last_done = done;
    floor->last_unproven = floor->unproven;
}

static void resume_last(struct naive_floor *floor)
{
    int64_t done = floor->done + floor->last_done;
    int64_t unproven = floor->unproven + floor->last_unproven;
    bool met = floor->last_met || (floor->extended && floor->met);
    bool blind = floor->last_met ? floor->last_blind : met && floor->blind;
    begin_period(floor, floor->last_start, floor->last_deadline);
    floor->done = done;
    floor->unproven = unproven;
    floor->met = met;
    floor->blind = blind;
    floor->has_last = false;
}

static void pass_deadline(struct naive *n, int i, int f)
{
    const struct floor_settings *fs = &n->settings->loads[i].floor[f];
    struct naive_floor *floor = &n->load[i].floor[f];
    if (!floor->elapsed && floor->has_last && n->stepped && n->w >= floor->last_start &&
        n->w < floor->last_deadline) {
        resume_last(floor);
        return;
    }
    bool extend = !floor->elapsed && !floor->met && n->stepped && !floor->extended;
    if (!floor->elapsed)
        leave(floor, extend ? 0 : floor->done);
    if (extend) {
        floor->extended = true;
        floor->deadline = n->w + room_taken(n, i, f);
        return;
    }
    while ((floor->elapsed ? n->t : n->w) >= floor->deadline)
        next_period(n, fs, floor);
}

static bool pursue(struct naive *n, const struct floor_settings *fs, struct naive_floor *floor)
{
    if (n->trusted) {
        if (!floor->begun || floor->elapsed) {
            floor->has_last = false;
            enter_calendar(n, fs, floor);
        }
        return true;
    }
    int64_t from = n->untrusted_since + UNTRUSTED_PATIENCE;
    if (n->t < from)
        return false;
    if (!floor->begun) {
        floor->begun = floor->elapsed = true;
        begin_period(floor, from, from + period_length(fs));
    }
    return true;
}

/* After the clock has stepped back. */
static void come_back(struct naive *n, int i, int f)
{
    const struct floor_settings *fs = &n->settings->loads[i].floor[f];
    struct naive_floor *floor = &n->load[i].floor[f];
    int64_t before, latest;
    if (floor->has_last && n->w < floor->last_deadline)
        resume_last(floor);
    if (floor->extended) {
        floor->deadline = min64(floor->deadline, n->w + room_taken(n, i, f));
        return;
    }
    if (fs->every_days > 0)
        latest = deadline_on(n, fs, minutes_at(n->minutes, n->w)->day + fs->every_days);
    else
        weekday_deadlines(n, fs, &before, &latest);
    if (floor->deadline > latest) {
        leave(floor, 0);
        floor->met = false;
        enter_calendar(n, fs, floor);
    }
}

static void look_whether_met(struct naive *n, int i, int f)
{
    const struct floor_settings *fs = &n->settings->loads[i].floor[f];
    struct naive_floor *floor = &n->load[i].floor[f];
    if (floor->met || !is_met(n, i, f))
        return;
    int64_t amount = fs->measure == FLOOR_ENERGY ? fs->amount * 3600 : fs->amount;
    floor->met = true;
    bool lately = n->t - n->load[i].view.opened_at.mono.ms <= SATISFIED_COUNTS;
    bool sure = has_opened(n, i, f) && !n->load[i].view.unsure && lately;
    floor->blind = fs->measure != FLOOR_SATISFIED && !sure &&
                   10 * (floor->done - floor->unproven) < 9 * amount;
}

void naive_floors(struct naive *n, int i)
{
    for (int f = 0; f < n->settings->loads[i].floor_count; f++) {
        const struct floor_settings *fs = &n->settings->loads[i].floor[f];
        struct naive_floor *floor = &n->load[i].floor[f];
        floor->cheap = false;
        if (!pursue(n, fs, floor)) {
            floor->due = false;
            continue;
        }
        if (n->trusted && n->stepped_back)
            come_back(n, i, f);
        look_whether_met(n, i, f);
        if ((floor->elapsed ? n->t : n->w) >= floor->deadline)
            pass_deadline(n, i, f);
        if (fs->every_days > 0 && floor->met) {
            next_period(n, fs, floor);
            floor->has_last = false;
        }
        look_whether_met(n, i, f);
        judge(n, i, f);
    }
}
