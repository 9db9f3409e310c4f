/* bus.h - one worker thread for each serial port or TCP peer.
 *
 * The loop posts jobs and never waits; the worker does them one at a time with
 * libmodbus, which blocks, and posts an answer for every job. A unit that does
 * not answer backs off by itself (backoff.h has the rule), so that it takes at most
 * a tenth of the bus's time; a job for a unit that is backing off is answered at once
 * with BUS_BACKING_OFF, and nothing of it was sent. After a time-out the worker waits the late
 * answer out and flushes, since nothing in it would tell it from the next one. Time comes with the
 * job (job.now), so that a granted clock governs the worker too. */
#ifndef SLUICE_BUS_BUS_H
#define SLUICE_BUS_BUS_H

#include "core/moment.h"
#include "core/serial_line.h"
#include "core/setting.h"
#include "loop/mailbox.h"
#include "meter/meter.h"
#include "meter/sunspec.h"

/* A bus that is listened to transmits nothing: another master asks, we only hear. */
enum bus_mode { BUS_POLL, BUS_LISTEN };

struct bus_settings {
    char name[32];
    char port[128]; /* serial device; empty: TCP */
    char host[128]; /* TCP: host name or address */
    int32_t tcp_port;
    int32_t baud;
    uint8_t parity;    /* enum parity */
    uint8_t stop_bits; /* 1 or 2 */
    int32_t answer_ms; /* how long a unit may take to begin its answer */
    uint8_t mode;      /* enum bus_mode */
};

extern const struct setting_rows bus_setting_rows; /* bus_rows.c */

enum { BUS_VALUES_MAX = 8, BUS_DETAIL_MAX = 96, BUS_METERS_MAX = 8, BUS_NO_METER = 0xff };

enum bus_job_kind {
    BUS_READ_METER,
    BUS_READ_COIL,
    BUS_READ_DISCRETE,
    BUS_WRITE_COIL,
    BUS_READ_REGISTERS,
    BUS_WRITE_REGISTERS
};

struct bus_job {
    uint32_t id; /* the caller's; comes back with the answer */
    enum bus_job_kind kind;
    uint8_t unit;
    uint8_t meter; /* BUS_READ_METER: index given by bus_add_meter */
    bool totals;   /* BUS_READ_METER: the slow quantities too */
    enum meter_table table;
    uint16_t address, count;        /* count: 1..BUS_VALUES_MAX; BUS_WRITE_COIL: 1 */
    uint16_t value[BUS_VALUES_MAX]; /* one register goes by function 06, more by 16 */
    struct mono now;
};

enum bus_outcome {
    BUS_OK,
    BUS_TIMEOUT,     /* silence */
    BUS_CORRUPT,     /* CRC, length, function, unit or transaction does not fit */
    BUS_EXCEPTION,   /* the unit said no: `exception` is its code */
    BUS_DOWN,        /* the port or connection is gone: it is tried again each 2 s */
    BUS_BACKING_OFF, /* not tried: the unit was silent too often lately */
    BUS_NOT_FOUND,   /* no SunSpec device, or the map does not fit: see detail */
    BUS_UNHEARD,     /* listening: nothing new has come by; detail says what is missing */
    BUS_LISTENING,   /* this bus is only listened to: nothing can be asked */
};

struct bus_answer {
    uint32_t id;
    enum bus_job_kind kind;
    enum bus_outcome outcome;
    uint8_t unit, meter, exception;
    uint16_t count;
    uint16_t value[BUS_VALUES_MAX];
    struct meter_sample sample; /* BUS_READ_METER */
    struct mono now;            /* the job's */
    int32_t took_us;            /* on the wire */
    int64_t age_ms;             /* of the sample, where it was overheard */
    bool left_out;              /* BUS_OK: the unit refuses part of the map: see detail */
    char detail[BUS_DETAIL_MAX];
};

struct bus;

/* Starts the worker. `answers` holds struct bus_answer and outlives the bus. */
struct bus *bus_new(const struct bus_settings *settings, struct mailbox *answers,
                    struct trouble *trouble);

/* Before the first job. `map` NULL: SunSpec, found by walking, and `wanted` says which
 * of the models on the chain (an inverter may show a meter of its own there). Returns the
 * meter's index for bus_job.meter, or BUS_NO_METER beyond BUS_METERS_MAX. The
 * map is copied. */
uint8_t bus_add_meter(struct bus *bus, uint8_t unit, const struct meter_map *map,
                      enum sunspec_wanted wanted);

/* Before the first job: how a unit that meters are read from backs off. While its last
 * answer is younger than `grace_ms` it is asked at every job; after that no rest is
 * longer than `rest_most_ms`, even where that takes more than a tenth of the bus's time;
 * 0: as any other unit. */
void bus_limit_rests(struct bus *bus, uint8_t unit, int64_t grace_ms, int64_t rest_most_ms);

/* False: the worker has too much to do already (or the job makes no sense: an
 * unknown meter, a count out of range); nothing was queued. The box of answers
 * should have room for as many as may be under way (128 a bus at most). */
bool bus_post(struct bus *bus, const struct bus_job *job);

enum { BUS_QUALITY_UNITS_MAX = 16 };

struct bus_unit_quality {
    uint8_t unit;
    uint64_t asked, answered; /* an exception is an answer */
    uint64_t timeouts, corrupt, exceptions;
    uint64_t retries;               /* questions after one that failed */
    int32_t p50_us, p95_us, p99_us; /* answer times; 0: none yet */
};

struct bus_quality {
    uint64_t noise_bytes; /* that belong to no frame, where the bus is listened to */
    uint64_t doubtful;    /* answers not used, since they may be another question's */
    uint64_t foreign;     /* questions of a master too many */
    bool two_masters;     /* so many since start that it is no accident */
    uint8_t unit_count;
    struct bus_unit_quality unit[BUS_QUALITY_UNITS_MAX];
};

/* How well it works, since start. */
void bus_quality(struct bus *bus, struct bus_quality *quality);

/* Jobs finished since start: rises while the worker makes progress. */
uint64_t bus_progress(const struct bus *bus);

/* Does what is queued, then ends the thread and closes the line. Waits at most
 * one answer time per queued job; never called from within a turn. */
void bus_free(struct bus *bus);

const char *bus_outcome_text(enum bus_outcome outcome); /* "silent", "corrupt answer", ... */

#endif
