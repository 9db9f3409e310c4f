/* point.c - from an order to what the device really has.
 *
 * A bout begins with an order: write, read back, compare; up to three more
 * tries a second apart. Then the point has failed (silent, refusing) or is
 * unsafe (says yes and reads back something else), and it is tried on at a
 * slower pace for as long as the order stands, since a board that comes back
 * must be set right without anybody's help.
 *
 * A settled point is read every so often. A difference that no write of ours
 * explains was another hand or a reset of the board: it is set right at once
 * and remarked upon. An order that comes while an answer is outstanding takes
 * its turn when the answer is there. */
#include "output/point.h"

void point_begin(struct point *point, bool reads_back, bool reports, bool amount)
{
    *point = (struct point){
        .reads_back = reads_back, .reports = reports, .amount = amount, .written = -1};
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
    if (point->health == OUTPUT_CONFIRMED || point->health == OUTPUT_UNKNOWN) {
        set_health(point, OUTPUT_PENDING, now);
    }
}

static void begin_bout(struct point *point, struct mono now)
{
    point->tries = 0;
    set_pending(point, now);
    plan(point, POINT_WRITE, now);
}

void point_order(struct point *point, int32_t value, struct mono now)
{
    if (point->ordered && point->wanted == value) {
        return;
    }
    point->ordered = true;
    point->wanted = value;
    point->remark = POINT_PLAIN;
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

static void fail_attempt(struct point *point, enum output_health verdict, struct mono now)
{
    enum point_action again = point->ordered ? POINT_WRITE : POINT_READ;
    bool given_up = point->tries >= POINT_RETRIES;
    point->doing = POINT_IDLE;
    if (given_up) {
        set_health(point, verdict, now);
        plan(point, again, mono_after(now, POINT_SLOW_MS));
    } else {
        point->tries++;
        plan(point, again, mono_after(now, point->hurried ? 0 : POINT_RETRY_MS));
    }
}

/* The device has what is wanted, or as much of it as it takes. */
static void settle(struct point *point, int32_t value, struct mono now)
{
    point->tries = 0;
    point->settled = value;
    point->known = true;
    if (point->seen != value || point->health != OUTPUT_CONFIRMED) {
        point->at = now;
    }
    point->seen = value;
    point->health = OUTPUT_CONFIRMED;
    if (point->reads_back && now.ms < point->rewrite.ms) {
        plan(point, POINT_READ, mono_after(now, POINT_CHECK_MS));
    } else {
        plan(point, POINT_WRITE,
             point->reads_back ? mono_after(now, POINT_CHECK_MS) : point->rewrite);
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
}

/* Judges what follows a write of ours. */
static void check_write(struct point *point, int32_t value, struct mono now)
{
    bool less = point->amount && value > 0 && value < point->wanted;
    if (value == point->wanted || less) {
        if (point->remark != POINT_CORRECTED) {
            point->remark = less ? POINT_LESS : POINT_PLAIN;
        }
        settle(point, value, now);
    } else {
        point->remark = POINT_DIFFERS;
        fail_attempt(point, OUTPUT_UNSAFE, now);
    }
}

/* Time is up: what the device last said, if anything, is its answer. */
static void end_wait(struct point *point, struct mono now)
{
    if (point->doing == POINT_AWAITING && point->known) {
        check_write(point, point->seen, now);
    } else {
        point->remark = POINT_MUTE;
        fail_attempt(point, OUTPUT_FAILED, now);
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
        point->checking = true;
    }
}

void point_acknowledged(struct point *point, struct mono now)
{
    point->doing = POINT_IDLE;
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

/* Judges what nobody here has caused. */
static void check_settled(struct point *point, int32_t value, struct mono now)
{
    if (value == point->settled || value == point->wanted) {
        if (point->remark != POINT_LESS) {
            point->remark = POINT_PLAIN;
        }
        settle(point, value, now);
    } else {
        point->remark = POINT_CORRECTED;
        begin_bout(point, now);
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
    } else if (point->doing == POINT_IDLE && point->health == OUTPUT_CONFIRMED) {
        check_settled(point, value, now);
    }
}

void point_failed(struct point *point, bool certain, struct mono now)
{
    point->doing = POINT_IDLE;
    point->remark = POINT_WORDS;
    if (certain) {
        set_health(point, OUTPUT_FAILED, now);
    }
    if (!overtaken(point, now)) {
        fail_attempt(point, OUTPUT_FAILED, now);
    }
}

bool point_busy(const struct point *point, struct mono now)
{
    return point->doing == POINT_WRITING || point->doing == POINT_READING ||
           (point->doing == POINT_IDLE && point->next != POINT_NOTHING && now.ms >= point->due.ms);
}
