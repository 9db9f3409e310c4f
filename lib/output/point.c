/* point.c - from an order to what the device really has.
 *
 * A bout begins with an order: write, read back, compare, and again until it is so.
 * How a try fails says what is known. One that was never sent says nothing and is no
 * try. Silence says nothing either: what was last confirmed is believed for a minute
 * (UNCONFIRMED where it was settled, PENDING where it was ordered), then the point has
 * FAILED; it is asked again each second, and the bus keeps that from costing too much.
 * A refusal is an answer: a few of them and the order has FAILED. So is a contradiction
 * (says yes and reads back something else): a few, and the point is UNSAFE. All of it
 * ends with the first answer that shows what is wanted.
 *
 * A settled point is read every so often. A difference that no write of ours explains
 * was another hand or a reset of the board: it is told as what the device has now, and
 * whoever gives the orders says what shall become of it, since closing a contactor that
 * has just opened is not this file's to decide.
 *
 * A device that contradicts one order after the other is locked out, for 5 min, 10 min,
 * ... 1 h: UNSAFE whatever it says, so that its load is not switched for ever by
 * somebody who cannot see what he does. Each end of a lock-out is a new chance; an order
 * that reads back right for ten minutes ends it for good.
 *
 * An order that comes while an answer is outstanding takes its turn when the answer is
 * there. */
#include "output/point.h"

void point_begin(struct point *point, bool reads_back, bool reports, bool amount)
{
    *point = (struct point){.reads_back = reads_back,
                            .reports = reports,
                            .amount = amount,
                            .written = -1,
                            .silent_since = MONO_NEVER,
                            .settled_since = MONO_NEVER};
}

static void plan(struct point *point, enum point_action next, struct mono due)
{
    point->next = next;
    point->due = due;
}

static void set_health(struct point *point, enum output_health health, struct mono now)
{
    if (point->health != health) {
        point->health = health;
        point->at = now;
    }
}

/* Trouble stays trouble until the device has been seen to obey. */
static void set_pending(struct point *point, struct mono now)
{
    if (point->health != OUTPUT_FAILED && point->health != OUTPUT_UNSAFE) {
        set_health(point, OUTPUT_PENDING, now);
    }
}

static void begin_bout(struct point *point, struct mono now)
{
    point->tries = 0;
    point->judged = false;
    point->strayed = false;
    point->settled_since = MONO_NEVER;
    set_pending(point, now);
    plan(point, POINT_WRITE, now);
}

static bool is_locked(const struct point *point, struct mono now)
{
    return !point->hurried && now.ms < point->locked_until.ms;
}

static bool says_locked(const struct point *point, struct mono now)
{
    return point->remark == POINT_LOCKED && is_locked(point, now);
}

void point_order(struct point *point, int32_t value, struct mono now)
{
    if (point->ordered && point->wanted == value && !point->strayed) {
        return;
    }
    if (!point->strayed && !says_locked(point, now)) {
        point->remark = POINT_PLAIN;
    }
    point->ordered = true;
    point->wanted = value;
    if (point->doing == POINT_AWAITING) {
        point->doing = POINT_IDLE;
    }
    begin_bout(point, now);
}

void point_probe(struct point *point, struct mono now)
{
    if (point->reads_back && !point->ordered) {
        plan(point, POINT_READ, now);
    }
}

void point_hurry(struct point *point, struct mono now)
{
    point->hurried = true;
    if (point->ordered && point->health != OUTPUT_CONFIRMED) {
        begin_bout(point, now);
    }
}

/* -- what failed ---------------------------------------------------------- */

static void try_again(struct point *point, enum point_action action, int64_t pause_ms,
                      struct mono now)
{
    if (point->hurried) {
        pause_ms = point->tries < POINT_TRIES ? 0 : POINT_HURRY_MS;
    }
    plan(point, action, mono_after(now, pause_ms));
}

static void count_try(struct point *point)
{
    if (point->tries < POINT_TRIES) {
        point->tries++;
    }
}

static bool is_settled(const struct point *point)
{
    return point->health == OUTPUT_CONFIRMED || point->health == OUTPUT_UNCONFIRMED;
}

/* Nothing was learnt of what the device has. */
static void doubt(struct point *point, enum point_failure failure, struct mono now)
{
    if (point->silent_since.ms == MONO_NEVER.ms) {
        point->silent_since = point->begun;
    }
    bool silent = mono_since_ms(now, point->silent_since) >= POINT_SILENCE_MS;
    bool refused = failure == POINT_REFUSED && point->tries >= POINT_TRIES;
    if (silent || refused) {
        set_health(point, OUTPUT_FAILED, now);
    } else if (is_settled(point)) {
        set_health(point, OUTPUT_UNCONFIRMED, now);
    }
}

/* What is settled is asked for before it is written again: a board that was reset may
 * have let go meanwhile. */
static enum point_action next_after(const struct point *point, enum point_action failed)
{
    return point->reads_back && (is_settled(point) || !point->ordered) ? POINT_READ : failed;
}

static void end_in_vain(struct point *point, enum point_failure failure, struct mono now)
{
    enum point_action failed = point->doing == POINT_READING ? POINT_READ : POINT_WRITE;
    enum point_action next = next_after(point, failed);
    point->doing = POINT_IDLE;
    if ((failure == POINT_REFUSED && !is_settled(point)) || point->hurried) {
        count_try(point);
    }
    doubt(point, failure, now);
    bool slow = failure == POINT_REFUSED && point->tries >= POINT_TRIES;
    try_again(point, next, slow ? POINT_SLOW_MS : POINT_RETRY_MS, now);
}

/* -- what is contradicted ------------------------------------------------- */

static void count_lie(struct point *point, struct mono now)
{
    if (mono_since_ms(now, point->lied_at) > POINT_LIE_COUNTS_MS) {
        point->lies = 0;
        point->lock_ms = 0;
    }
    point->lied = point->wanted;
    point->lied_at = now;
    if (point->lies < POINT_LIES) {
        point->lies++;
    }
    if (point->lies < POINT_LIES || is_locked(point, now)) {
        return;
    }
    int32_t doubled = point->lock_ms * 2;
    point->lock_ms = doubled == 0                   ? POINT_LOCK_MS
                     : doubled > POINT_LOCK_MOST_MS ? POINT_LOCK_MOST_MS
                                                    : doubled;
    point->locked_until = mono_after(now, point->lock_ms);
    point->remark = POINT_LOCKED;
}

static void contradict(struct point *point, struct mono now)
{
    if (!says_locked(point, now)) {
        point->remark = POINT_DIFFERS;
    }
    count_try(point);
    if (point->tries >= POINT_TRIES) {
        set_health(point, OUTPUT_UNSAFE, now);
        if (!point->judged) {
            count_lie(point, now);
        }
        point->judged = true;
    }
    try_again(point, POINT_WRITE, point->judged ? POINT_SLOW_MS : POINT_RETRY_MS, now);
}

static void forget_lies(struct point *point, int32_t value, struct mono now)
{
    if (value == point->lied && mono_since_ms(now, point->settled_since) >= POINT_PROVEN_MS) {
        point->lies = 0;
        point->lock_ms = 0;
    }
}

/* -- what was seen -------------------------------------------------------- */

/* The device has what is wanted, or as much of it as it takes. */
static void settle(struct point *point, int32_t value, struct mono now)
{
    if (point->settled_since.ms == MONO_NEVER.ms) {
        point->settled_since = now;
    }
    forget_lies(point, value, now);
    point->tries = 0;
    point->judged = false;
    point->settled = value;
    if (point->seen != value) {
        point->at = now;
    }
    point->known = true;
    point->seen = value;
    point->heard = now;
    point->silent_since = MONO_NEVER;
    set_health(point, is_locked(point, now) ? OUTPUT_UNSAFE : OUTPUT_CONFIRMED, now);
    if (point->reads_back) {
        plan(point, POINT_READ, mono_after(now, POINT_CHECK_MS));
    } else {
        plan(point, POINT_WRITE, point->rewrite);
    }
}

/* An order came while something was under way: it goes first. */
static bool overtaken(struct point *point, struct mono now)
{
    if (!point->ordered || point->written == point->wanted) {
        return false;
    }
    plan(point, POINT_WRITE, now);
    return true;
}

static void note(struct point *point, int32_t value, struct mono now)
{
    if (!point->known || point->seen != value) {
        point->at = now;
    }
    point->known = true;
    point->seen = value;
    point->heard = now;
    point->silent_since = MONO_NEVER;
}

/* Judges what follows a write of ours. */
static void check_write(struct point *point, int32_t value, struct mono now)
{
    bool less = point->amount && value > 0 && value < point->wanted;
    if (value == point->wanted || less) {
        if (point->remark != POINT_CHANGED && !says_locked(point, now)) {
            point->remark = less ? POINT_LESS : POINT_PLAIN;
        }
        settle(point, value, now);
    } else {
        contradict(point, now);
    }
}

/* Time is up: what the device last said, if anything, is its answer. */
static void end_wait(struct point *point, struct mono now)
{
    if (point->doing == POINT_AWAITING && point->known) {
        point->doing = POINT_IDLE;
        check_write(point, point->seen, now);
    } else {
        point->remark = POINT_MUTE;
        end_in_vain(point, POINT_SILENT, now);
    }
}

static bool in_vain(const struct point *point, struct mono now)
{
    int64_t patience_ms = point->doing == POINT_AWAITING ? POINT_REPORT_MS : POINT_LOST_MS;
    return point->doing != POINT_IDLE && mono_since_ms(now, point->begun) >= patience_ms;
}

enum point_action point_due(struct point *point, struct mono now)
{
    if (in_vain(point, now)) {
        end_wait(point, now);
    }
    return point->doing == POINT_IDLE && now.ms >= point->due.ms ? point->next : POINT_NOTHING;
}

void point_began(struct point *point, enum point_action action, struct mono now)
{
    point->doing = action == POINT_WRITE ? POINT_WRITING : POINT_READING;
    point->begun = now;
    if (action == POINT_WRITE) {
        point->written = point->wanted;
        point->rewrite = mono_after(now, POINT_REWRITE_MS);
    }
}

void point_acknowledged(struct point *point, struct mono now)
{
    point->doing = POINT_IDLE;
    point->checking = true;
    if (overtaken(point, now)) {
        return;
    }
    if (point->reads_back) {
        plan(point, POINT_READ, now);
    } else if (point->reports && !(point->known && point->seen == point->written)) {
        point->doing = POINT_AWAITING;
        point->begun = now;
    } else {
        point->remark = POINT_PLAIN;
        settle(point, point->written, now);
    }
}

/* Switched by somebody else, or let go by a reset. A set-point that was moved is moved
 * back: nothing opens or closes by it. */
static void stray(struct point *point, int32_t value, struct mono now)
{
    point->remark = POINT_CHANGED;
    count_lie(point, now);
    point->settled = value;
    if (point->hurried || (point->amount && value > 0 && point->wanted > 0)) {
        begin_bout(point, now);
        return;
    }
    point->strayed = true;
    point->settled_since = MONO_NEVER;
    set_health(point, is_locked(point, now) ? OUTPUT_UNSAFE : OUTPUT_CONFIRMED, now);
    plan(point, POINT_READ, mono_after(now, POINT_CHECK_MS));
}

/* Judges what nobody here has caused. */
static void check_settled(struct point *point, int32_t value, struct mono now)
{
    if (value != point->settled && value != point->wanted) {
        stray(point, value, now);
        return;
    }
    if (point->remark != POINT_LESS && !says_locked(point, now)) {
        point->remark = POINT_PLAIN;
    }
    settle(point, value, now);
    if (point->reads_back && now.ms >= point->rewrite.ms) {
        plan(point, POINT_WRITE, now);
    }
}

void point_saw(struct point *point, int32_t value, struct mono now)
{
    bool checking = point->checking;
    point->doing = POINT_IDLE;
    point->checking = false;
    note(point, value, now);
    if (!point->ordered) {
        point->tries = 0;
        point->remark = POINT_PLAIN;
        set_health(point, OUTPUT_CONFIRMED, now);
        plan(point, POINT_READ, mono_after(now, POINT_CHECK_MS));
    } else if (!overtaken(point, now)) {
        (checking ? check_write : check_settled)(point, value, now);
    }
}

/* A report may describe the state before our order: only its absence, or a
 * contradiction that stands when time is up, is a failure. */
void point_told(struct point *point, int32_t value, struct mono now)
{
    note(point, value, now);
    if (!point->ordered) {
        set_health(point, OUTPUT_CONFIRMED, now);
    } else if (point->written == point->wanted && value == point->wanted) {
        point->doing = POINT_IDLE;
        check_write(point, value, now);
    } else if (point->doing == POINT_IDLE && is_settled(point)) {
        check_settled(point, value, now);
    }
}

void point_failed(struct point *point, enum point_failure failure, struct mono now)
{
    if (!says_locked(point, now)) {
        point->remark = POINT_WORDS;
    }
    end_in_vain(point, failure, now);
    overtaken(point, now);
}

void point_lose(struct point *point, struct mono now)
{
    if (point->doing == POINT_WRITING || point->doing == POINT_READING) {
        plan(point, point->doing == POINT_WRITING ? POINT_WRITE : POINT_READ, now);
        point->doing = POINT_IDLE;
    }
}

void point_rewired(struct point *point, struct mono now)
{
    point_lose(point, now);
    if (is_settled(point)) {
        set_health(point, OUTPUT_UNCONFIRMED, now);
        plan(point, point->reads_back ? POINT_READ : POINT_WRITE, now);
    }
}

struct mono point_next(const struct point *point)
{
    if (point->doing == POINT_AWAITING) {
        return mono_after(point->begun, POINT_REPORT_MS);
    }
    return point->doing == POINT_IDLE && point->next != POINT_NOTHING ? point->due : MONO_NEVER;
}

bool point_busy(const struct point *point, struct mono now)
{
    return point->doing == POINT_WRITING || point->doing == POINT_READING ||
           (point->doing == POINT_IDLE && point->next != POINT_NOTHING && now.ms >= point->due.ms);
}
