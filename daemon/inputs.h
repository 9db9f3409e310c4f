/* inputs.h - what comes in: the meters, the one reading that is made of them, and what the
 * grid's registers count.
 *
 * meters.c asks in time, meter_answers.c judges what is answered, sources.c puts it together,
 * grid.c counts. */
#ifndef SLUICE_DAEMON_INPUTS_H
#define SLUICE_DAEMON_INPUTS_H

#include "bus/bus.h"
#include "common.h"
#include "meter/plausible.h"
#include "meter/total.h"

struct lines;
struct serving;

struct meter_watch {
    uint8_t bus_meter;              /* index within its bus */
    bool asked;                     /* a read is under way */
    enum bus_outcome outcome, told; /* told: what the trouble in force says */
    char detail[BUS_DETAIL_MAX];
    struct mono due, totals_due;
    struct mono bad_since; /* nothing good has come since; MONO_NEVER: the newest is good */
    struct plausible_memory plausible;
    enum implausible fault;     /* of the newest sample, good or not */
    bool read;                  /* there has been a good sample: the last of them is */
    struct meter_sample sample; /* this one, with the number and the moment of it */
    uint32_t sequence;
    struct mono taken;
};

/* Import and export of the grid: by the meter's own registers, or integrated. */
struct grid_energy {
    int64_t import_mj, export_mj; /* counted, in W x ms */
    struct total import_register, export_register;
    int64_t gap_ms; /* time without a reading, where it is integrated */
    bool integrated;
    bool awaited; /* the meter is about to be exchanged: grid_await */
    struct mono awaited_until;
};

struct inputs {
    struct meter_watch meters[SETTINGS_METERS_MAX];
    struct reading reading;                               /* as of this turn */
    struct load_reading load_reading[SETTINGS_LOADS_MAX]; /* as of this turn */
    bool inhibit_unread[SETTINGS_LOADS_MAX]; /* inhibited by what has not been read yet alone */
    struct grid_energy grid;
};

/* Once their buses are there. */
void meters_begin(struct inputs *inputs, const struct lines *lines, const struct common *common);
/* After that, at a reload: what was read of a meter that measures the same goes on, as old as
 * it is, also over another line. */
void meters_go_on(struct inputs *inputs, const struct meter_watch was[],
                  const struct settings *before, const struct settings *after);
/* Posts the reads that are due. */
void meters_ask(struct inputs *inputs, struct lines *lines, const struct common *common);
struct mono meters_next(const struct inputs *inputs, const struct common *common);
/* At a reload: troubles of meters that begin anew are reported again if they last. */
void meters_forget_troubles(struct inputs *inputs, struct common *common,
                            const struct settings *before, bool lines_stay);
/* The same bus need not be told anything new of the meter. */
bool meters_same_on_bus(const struct meter_settings *a, const struct meter_settings *b);

void meter_answer(struct inputs *inputs, struct serving *serving, struct common *common,
                  const struct bus_answer *answer);

/* `reading` and `load_reading` as of now. */
void sources_settle(struct inputs *inputs, const struct common *common);

void grid_book(struct inputs *inputs, int64_t dt_ms); /* between two turns */
void grid_registers(struct inputs *inputs, struct common *common,
                    const struct meter_sample *sample);
/* The grid meter `name` is about to be exchanged: the first registers that are read after it
 * was silent for a while within a day count from there. `what` is "", or "end": it is not.
 * `by` is whoever says so. Answers in words. */
bool grid_await(struct inputs *inputs, struct common *common, const char *name, const char *what,
                const char *by, struct text *answer);
/* Once a turn: what was said and not done in time no longer counts. */
void grid_look(struct inputs *inputs, struct common *common);
/* At a reload: nor what was said of a meter that is no longer the grid's. */
void grid_forget(struct inputs *inputs, struct common *common, const struct settings *before);
/* It answers again, `silent_ms` after its last good sample. True: it is taken for another one. */
bool grid_answers_again(struct inputs *inputs, struct common *common, const char *name,
                        int64_t silent_ms);
/* A register as it was read before this daemon ran: `age_ms` before the last save, which
 * was `away_ms` ago (-1: no clock can tell). A negative register: there is none. */
struct total grid_remembered(int64_t register_mwh, int64_t age_ms, int64_t away_ms,
                             struct mono now);

#endif
