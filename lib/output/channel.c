/* channel.c - from an order to what the device really has.
 *
 * A bout begins with an order: write, read back, compare, and again until it is so.
 * How a try fails says what is known. One that was never sent says nothing and is no
 * try. Silence says nothing either: what was last confirmed is believed for a minute
 * (UNCONFIRMED where it was settled, PENDING where it was ordered), then the channel has
 * FAILED; it is asked again each second, and the bus keeps that from costing too much.
 * A refusal is an answer: a few of them and the order has FAILED. So is a contradiction
 * (says yes and reads back something else): a few, and the channel is UNSAFE. All of it
 * ends with the first answer that shows what is wanted.
 *
 * A settled channel is read every so often. A difference that no write of ours explains
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
#include "output/channel.h"

void channel_begin(struct channel *channel, bool reads_back, bool reports, bool amount)
{
    *channel = (struct channel){.reads_back = reads_back,
                                .reports = reports,
                                .amount = amount,
                                .written = -1,
                                .silent_since = MONO_NEVER,
                                .settled_since = MONO_NEVER};
}

static void plan(struct channel *channel, enum channel_action next, struct mono due)
{
    channel->next = next;
    channel->due = due;
}

static void set_health(struct channel *channel, enum output_health health, struct mono now)
{
    if (channel->health != health) {
        channel->health = health;
        channel->at = now;
    }
}

/* Trouble stays trouble until the device has been seen to obey. */
static void set_pending(struct channel *channel, struct mono now)
{
    if (channel->health != OUTPUT_FAILED && channel->health != OUTPUT_UNSAFE) {
        set_health(channel, OUTPUT_PENDING, now);
    }
}

static void begin_bout(struct channel *channel, struct mono now)
{
    channel->tries = 0;
    channel->judged = false;
    channel->strayed = false;
    channel->settled_since = MONO_NEVER;
    set_pending(channel, now);
    plan(channel, CHANNEL_WRITE, now);
}

static bool is_locked(const struct channel *channel, struct mono now)
{
    return !channel->hurried && now.ms < channel->locked_until.ms;
}

static bool says_locked(const struct channel *channel, struct mono now)
{
    return channel->remark == CHANNEL_LOCKED && is_locked(channel, now);
}

void channel_order(struct channel *channel, int32_t value, struct mono now)
{
    if (channel->ordered && channel->wanted == value && !channel->strayed) {
        return;
    }
    if (!channel->strayed && !says_locked(channel, now)) {
        channel->remark = CHANNEL_PLAIN;
    }
    channel->ordered = true;
    channel->wanted = value;
    if (channel->doing == CHANNEL_AWAITING) {
        channel->doing = CHANNEL_IDLE;
    }
    begin_bout(channel, now);
}

void channel_probe(struct channel *channel, struct mono now)
{
    if (channel->reads_back && !channel->ordered) {
        plan(channel, CHANNEL_READ, now);
    }
}

void channel_hurry(struct channel *channel, struct mono now)
{
    channel->hurried = true;
    if (channel->ordered && channel->health != OUTPUT_CONFIRMED) {
        begin_bout(channel, now);
    }
}

/* -- what failed ---------------------------------------------------------- */

static void try_again(struct channel *channel, enum channel_action action, int64_t pause_ms,
                      struct mono now)
{
    if (channel->hurried) {
        pause_ms = channel->tries < CHANNEL_TRIES ? 0 : CHANNEL_HURRY_MS;
    }
    plan(channel, action, mono_after(now, pause_ms));
}

static void count_try(struct channel *channel)
{
    if (channel->tries < CHANNEL_TRIES) {
        channel->tries++;
    }
}

static bool is_settled(const struct channel *channel)
{
    return channel->health == OUTPUT_CONFIRMED || channel->health == OUTPUT_UNCONFIRMED;
}

/* Nothing was learnt of what the device has. */
static void doubt(struct channel *channel, enum channel_failure failure, struct mono now)
{
    if (channel->silent_since.ms == MONO_NEVER.ms) {
        channel->silent_since = channel->begun;
    }
    bool silent = mono_since_ms(now, channel->silent_since) >= CHANNEL_SILENCE_MS;
    bool refused = failure == CHANNEL_REFUSED && channel->tries >= CHANNEL_TRIES;
    if (silent || refused) {
        set_health(channel, OUTPUT_FAILED, now);
    } else if (is_settled(channel)) {
        set_health(channel, OUTPUT_UNCONFIRMED, now);
    }
}

/* What is settled is asked for before it is written again: a board that was reset may
 * have let go meanwhile. */
static enum channel_action next_after(const struct channel *channel, enum channel_action failed)
{
    return channel->reads_back && (is_settled(channel) || !channel->ordered) ? CHANNEL_READ
                                                                             : failed;
}

static void end_in_vain(struct channel *channel, enum channel_failure failure, struct mono now)
{
    enum channel_action failed = channel->doing == CHANNEL_READING ? CHANNEL_READ : CHANNEL_WRITE;
    enum channel_action next = next_after(channel, failed);
    channel->doing = CHANNEL_IDLE;
    if ((failure == CHANNEL_REFUSED && !is_settled(channel)) || channel->hurried) {
        count_try(channel);
    }
    doubt(channel, failure, now);
    bool slow = failure == CHANNEL_REFUSED && channel->tries >= CHANNEL_TRIES;
    try_again(channel, next, slow ? CHANNEL_SLOW_MS : CHANNEL_RETRY_MS, now);
}

/* -- what is contradicted ------------------------------------------------- */

static void count_lie(struct channel *channel, struct mono now)
{
    if (mono_since_ms(now, channel->lied_at) > CHANNEL_LIE_COUNTS_MS) {
        channel->lies = 0;
        channel->lock_ms = 0;
    }
    channel->lied = channel->wanted;
    channel->lied_at = now;
    if (channel->lies < CHANNEL_LIES) {
        channel->lies++;
    }
    if (channel->lies < CHANNEL_LIES || is_locked(channel, now)) {
        return;
    }
    int32_t doubled = channel->lock_ms * 2;
    channel->lock_ms = doubled == 0                     ? CHANNEL_LOCK_MS
                       : doubled > CHANNEL_LOCK_MOST_MS ? CHANNEL_LOCK_MOST_MS
                                                        : doubled;
    channel->locked_until = mono_after(now, channel->lock_ms);
    channel->remark = CHANNEL_LOCKED;
}

static void contradict(struct channel *channel, struct mono now)
{
    if (!says_locked(channel, now)) {
        channel->remark = CHANNEL_DIFFERS;
    }
    count_try(channel);
    if (channel->tries >= CHANNEL_TRIES) {
        set_health(channel, OUTPUT_UNSAFE, now);
        if (!channel->judged) {
            count_lie(channel, now);
        }
        channel->judged = true;
    }
    try_again(channel, CHANNEL_WRITE, channel->judged ? CHANNEL_SLOW_MS : CHANNEL_RETRY_MS, now);
}

static void forget_lies(struct channel *channel, int32_t value, struct mono now)
{
    if (value == channel->lied && mono_since_ms(now, channel->settled_since) >= CHANNEL_PROVEN_MS) {
        channel->lies = 0;
        channel->lock_ms = 0;
    }
}

/* -- what was seen -------------------------------------------------------- */

/* The device has what is wanted, or as much of it as it takes. */
static void settle(struct channel *channel, int32_t value, struct mono now)
{
    if (channel->settled_since.ms == MONO_NEVER.ms) {
        channel->settled_since = now;
    }
    forget_lies(channel, value, now);
    channel->tries = 0;
    channel->judged = false;
    channel->settled = value;
    if (channel->seen != value) {
        channel->at = now;
    }
    channel->known = true;
    channel->seen = value;
    channel->heard = now;
    channel->silent_since = MONO_NEVER;
    set_health(channel, is_locked(channel, now) ? OUTPUT_UNSAFE : OUTPUT_CONFIRMED, now);
    if (channel->reads_back) {
        plan(channel, CHANNEL_READ, mono_after(now, CHANNEL_CHECK_MS));
    } else {
        plan(channel, CHANNEL_WRITE, channel->rewrite);
    }
}

/* An order came while something was under way: it goes first. */
static bool overtaken(struct channel *channel, struct mono now)
{
    if (!channel->ordered || channel->written == channel->wanted) {
        return false;
    }
    plan(channel, CHANNEL_WRITE, now);
    return true;
}

static void note(struct channel *channel, int32_t value, struct mono now)
{
    if (!channel->known || channel->seen != value) {
        channel->at = now;
    }
    channel->known = true;
    channel->seen = value;
    channel->heard = now;
    channel->silent_since = MONO_NEVER;
}

/* Judges what follows a write of ours. */
static void check_write(struct channel *channel, int32_t value, struct mono now)
{
    bool less = channel->amount && value > 0 && value < channel->wanted;
    if (value == channel->wanted || less) {
        if (channel->remark != CHANNEL_CHANGED && !says_locked(channel, now)) {
            channel->remark = less ? CHANNEL_LESS : CHANNEL_PLAIN;
        }
        settle(channel, value, now);
    } else {
        contradict(channel, now);
    }
}

/* Time is up: what the device last said, if anything, is its answer. */
static void end_wait(struct channel *channel, struct mono now)
{
    if (channel->doing == CHANNEL_AWAITING && channel->known) {
        channel->doing = CHANNEL_IDLE;
        check_write(channel, channel->seen, now);
    } else {
        channel->remark = CHANNEL_MUTE;
        end_in_vain(channel, CHANNEL_SILENT, now);
    }
}

static bool in_vain(const struct channel *channel, struct mono now)
{
    int64_t limit_ms = channel->doing == CHANNEL_AWAITING ? CHANNEL_REPORT_MS : CHANNEL_LOST_MS;
    return channel->doing != CHANNEL_IDLE && mono_since_ms(now, channel->begun) >= limit_ms;
}

enum channel_action channel_due(struct channel *channel, struct mono now)
{
    if (in_vain(channel, now)) {
        end_wait(channel, now);
    }
    return channel->doing == CHANNEL_IDLE && now.ms >= channel->due.ms ? channel->next
                                                                       : CHANNEL_NOTHING;
}

void channel_began(struct channel *channel, enum channel_action action, struct mono now)
{
    channel->doing = action == CHANNEL_WRITE ? CHANNEL_WRITING : CHANNEL_READING;
    channel->begun = now;
    if (action == CHANNEL_WRITE) {
        channel->written = channel->wanted;
        channel->rewrite = mono_after(now, CHANNEL_REWRITE_MS);
    }
}

void channel_acknowledged(struct channel *channel, struct mono now)
{
    channel->doing = CHANNEL_IDLE;
    channel->checking = true;
    if (overtaken(channel, now)) {
        return;
    }
    if (channel->reads_back) {
        plan(channel, CHANNEL_READ, now);
    } else if (channel->reports && !(channel->known && channel->seen == channel->written)) {
        channel->doing = CHANNEL_AWAITING;
        channel->begun = now;
    } else {
        channel->remark = CHANNEL_PLAIN;
        settle(channel, channel->written, now);
    }
}

/* Switched by somebody else, or let go by a reset. A set-point that was moved is moved
 * back: nothing opens or closes by it. */
static void stray(struct channel *channel, int32_t value, struct mono now)
{
    channel->remark = CHANNEL_CHANGED;
    count_lie(channel, now);
    channel->settled = value;
    if (channel->hurried || (channel->amount && value > 0 && channel->wanted > 0)) {
        begin_bout(channel, now);
        return;
    }
    channel->strayed = true;
    channel->settled_since = MONO_NEVER;
    set_health(channel, is_locked(channel, now) ? OUTPUT_UNSAFE : OUTPUT_CONFIRMED, now);
    plan(channel, CHANNEL_READ, mono_after(now, CHANNEL_CHECK_MS));
}

/* Judges what nobody here has caused. */
static void check_settled(struct channel *channel, int32_t value, struct mono now)
{
    if (value != channel->settled && value != channel->wanted) {
        stray(channel, value, now);
        return;
    }
    if (channel->remark != CHANNEL_LESS && !says_locked(channel, now)) {
        channel->remark = CHANNEL_PLAIN;
    }
    settle(channel, value, now);
    if (channel->reads_back && now.ms >= channel->rewrite.ms) {
        plan(channel, CHANNEL_WRITE, now);
    }
}

void channel_saw(struct channel *channel, int32_t value, struct mono now)
{
    bool checking = channel->checking;
    channel->doing = CHANNEL_IDLE;
    channel->checking = false;
    note(channel, value, now);
    if (!channel->ordered) {
        channel->tries = 0;
        channel->remark = CHANNEL_PLAIN;
        set_health(channel, OUTPUT_CONFIRMED, now);
        plan(channel, CHANNEL_READ, mono_after(now, CHANNEL_CHECK_MS));
    } else if (!overtaken(channel, now)) {
        (checking ? check_write : check_settled)(channel, value, now);
    }
}

/* A report may describe the state before our order: only its absence, or a
 * contradiction that stands when time is up, is a failure. */
void channel_told(struct channel *channel, int32_t value, struct mono now)
{
    note(channel, value, now);
    if (!channel->ordered) {
        set_health(channel, OUTPUT_CONFIRMED, now);
    } else if (channel->written == channel->wanted && value == channel->wanted) {
        channel->doing = CHANNEL_IDLE;
        check_write(channel, value, now);
    } else if (channel->doing == CHANNEL_IDLE && is_settled(channel)) {
        check_settled(channel, value, now);
    }
}

void channel_failed(struct channel *channel, enum channel_failure failure, struct mono now)
{
    if (!says_locked(channel, now)) {
        channel->remark = CHANNEL_WORDS;
    }
    end_in_vain(channel, failure, now);
    overtaken(channel, now);
}

void channel_lose(struct channel *channel, struct mono now)
{
    if (channel->doing == CHANNEL_WRITING || channel->doing == CHANNEL_READING) {
        plan(channel, channel->doing == CHANNEL_WRITING ? CHANNEL_WRITE : CHANNEL_READ, now);
        channel->doing = CHANNEL_IDLE;
    }
}

void channel_rewired(struct channel *channel, struct mono now)
{
    channel_lose(channel, now);
    if (is_settled(channel)) {
        set_health(channel, OUTPUT_UNCONFIRMED, now);
        plan(channel, channel->reads_back ? CHANNEL_READ : CHANNEL_WRITE, now);
    }
}

struct mono channel_next(const struct channel *channel)
{
    if (channel->doing == CHANNEL_AWAITING) {
        return mono_after(channel->begun, CHANNEL_REPORT_MS);
    }
    return channel->doing == CHANNEL_IDLE && channel->next != CHANNEL_NOTHING ? channel->due
                                                                              : MONO_NEVER;
}

bool channel_busy(const struct channel *channel, struct mono now)
{
    return channel->doing == CHANNEL_WRITING || channel->doing == CHANNEL_READING ||
           (channel->doing == CHANNEL_IDLE && channel->next != CHANNEL_NOTHING &&
            now.ms >= channel->due.ms);
}
