/* lines.c - the buses: opening them, every question to them and whose answer it is, and how
 * well they work.
 *
 * All questions go through here, so that it is known how many are under way, and on which
 * bus. Counters are as of the last look: each takes every bus's lock for a moment, so it is
 * once in ten seconds and not at each turn. */
#include "lines.h"

#include <string.h>

#include "troubles.h"

enum {
    LOOK_EVERY_MS = 10000,
    WINDOW_MS = 10 * MS_PER_MIN,
    NO_ACCIDENT = 3,
    STUCK_MS = 2 * MS_PER_MIN
};

bool lines_open(struct lines *lines, const struct common *common, struct trouble *trouble)
{
    for (uint8_t k = 0; k < common->settings->bus_count; k++) {
        lines->buses[k] = bus_new(&common->settings->buses[k], lines->answers, trouble);
        if (!lines->buses[k])
            return false;
        lines->moved[k] = common->now.mono;
    }
    return true;
}

void lines_give_up(struct lines *lines, struct bus *old[static SETTINGS_BUSES_MAX])
{
    memcpy(old, lines->buses, sizeof(lines->buses));
    memset(lines->buses, 0, sizeof(lines->buses));
    memset(lines->bus_under_way, 0, sizeof(lines->bus_under_way));
    lines->under_way = 0;
    lines->generation = (lines->generation + 1) & 0xf;
}

/* ---- questions and answers ---------------------------------------------------------------- */

/* A job's id carries its bus and the generation of buses that it was posted to, so that an
 * answer of buses that a reload has replaced is known as such. */
static uint32_t mark(uint32_t id, uint8_t bus, uint8_t generation)
{
    return id | (uint32_t)bus << 24 | (uint32_t)generation << 28;
}

bool job_post(struct lines *lines, uint8_t bus_index, const struct bus_job *job)
{
    struct bus_job marked = *job;
    marked.id = mark(job->id, bus_index, lines->generation);
    if (!lines->buses[bus_index] || !bus_post(lines->buses[bus_index], &marked))
        return false;
    lines->under_way++;
    lines->bus_under_way[bus_index]++;
    return true;
}

bool job_take(struct lines *lines, struct bus_answer *answer)
{
    uint32_t id = answer->id;
    answer->id = id & JOB_ID_MASK;
    if ((uint8_t)(id >> 28) != lines->generation)
        return false;
    lines->under_way--;
    lines->bus_under_way[(id >> 24) & 0xf]--;
    return true;
}

/* ---- how well they work -------------------------------------------------------------------- */

/* Lately, not ever: a master that was taken away is to be forgotten, and an accident a
 * month is none. */
static bool two_masters(struct lines *lines, struct common *common, uint8_t bus)
{
    uint64_t count = lines->quality[bus].foreign;
    if (count < lines->foreign[bus].before)
        lines->foreign[bus].before = 0; /* another bus since a reload */
    bool here = count - lines->foreign[bus].before >= NO_ACCIDENT;
    bool were_there = lines->foreign[bus].were_there;
    if (mono_since_ms(common->now.mono, lines->foreign[bus].since) >= WINDOW_MS) {
        lines->foreign[bus].before = count;
        lines->foreign[bus].since = common->now.mono;
        lines->foreign[bus].were_there = here;
    }
    return here || were_there;
}

static void judge(struct lines *lines, struct common *common, uint8_t bus)
{
    const struct bus_settings *settings = &common->settings->buses[bus];
    char id[MQTT_ID_MAX];
    site_trouble_id(id, "masters", settings->name);
    if (!lines->quality[bus].two_masters)
        site_solved(common, id);
    else if (settings->mode == BUS_LISTEN)
        site_trouble(common, id,
                     "bus %s: two masters poll at once and corrupt each other's frames; a bus has "
                     "one master",
                     settings->name);
    else
        site_trouble(
            common, id,
            "bus %s: another master polls on it too; a bus has one master: stop the other, "
            "or set mode: listen",
            settings->name);
}

void lines_look(struct lines *lines, struct common *common)
{
    if (common->now.mono.ms < lines->quality_due.ms)
        return;
    lines->quality_due = mono_after(common->now.mono, LOOK_EVERY_MS);
    for (uint8_t k = 0; k < common->settings->bus_count; k++) {
        if (!lines->buses[k])
            continue;
        bus_quality(lines->buses[k], &lines->quality[k]);
        lines->quality[k].two_masters = two_masters(lines, common, k);
        judge(lines, common, k);
    }
}

/* A worker that has ended no job for longer than any job can take is stuck. A unit that
 * is slow, or a whole line that is silent, is not: that is a fault to report. */
bool lines_all_move(struct lines *lines, const struct common *common)
{
    bool all = true;
    for (uint8_t k = 0; k < common->settings->bus_count; k++) {
        uint64_t progress = bus_progress(lines->buses[k]);
        if (lines->bus_under_way[k] == 0 || progress != lines->progress[k])
            lines->moved[k] = common->now.mono;
        lines->progress[k] = progress;
        all &= mono_since_ms(common->now.mono, lines->moved[k]) < STUCK_MS;
    }
    return all;
}
