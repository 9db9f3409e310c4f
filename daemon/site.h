/* site.h - all that one running daemon has: the settings in force, the engine's
 * memory, and the edges. One thread, the loop's, owns it; the edges' own threads
 * see only their mailboxes. */
#ifndef SLUICE_DAEMON_SITE_H
#define SLUICE_DAEMON_SITE_H

#include "bus/bus.h"
#include "ledger/ledger.h"
#include "loop/clock.h"
#include "loop/mailbox.h"
#include "meter/plausible.h"
#include "mqtt/mqtt.h"
#include "output/output.h"
#include "rules/rules.h"
#include "settings/settings.h"
#include "terms/order.h"

enum {
    SITE_TROUBLES_MAX = 24,
    SITE_TROUBLE_TEXT_MAX = 200,
    SITE_COMMANDS_MAX = 16,
    SITE_CLIENTS_MAX = 8,
    SITE_REQUEST_MAX = 256,
    /* ids of bus jobs: meters below, then the outputs' two ranges */
    JOB_METERS = 0,
    JOB_OUTPUTS = 0x10000,
    JOB_RETIRED = 0x20000,
    JOB_ID_MASK = 0xffffff,
};

/* A job's id carries its bus and the generation of buses that it was posted to, so
 * that an answer of buses that a reload has replaced is known as such. */
static inline uint32_t job_mark(uint32_t id, uint8_t bus, uint8_t generation)
{
    return id | (uint32_t)bus << 24 | (uint32_t)generation << 28;
}

static inline uint8_t job_bus(uint32_t id)
{
    return (id >> 24) & 0xf;
}

static inline uint8_t job_generation(uint32_t id)
{
    return (uint8_t)(id >> 28);
}

/* Something that is wrong now, and stays in the list until it is not. */
struct site_trouble {
    char id[MQTT_ID_MAX];
    char text[SITE_TROUBLE_TEXT_MAX];
};

struct meter_watch {
    uint8_t bus_meter; /* index within its bus */
    bool asked;        /* a read is under way */
    bool read;         /* `sample` has been filled once */
    enum bus_outcome outcome;
    char detail[BUS_DETAIL_MAX];
    struct mono due, totals_due;
    struct mono taken; /* of `sample` */
    struct mono bad_since;
    struct meter_sample sample;
    struct plausible_memory plausible;
    enum implausible fault;
};

/* Import and export of the grid: by the meter's own registers, or integrated. */
struct grid_energy {
    int64_t import_mj, export_mj; /* counted, in W x ms */
    int64_t import_register_mwh, export_register_mwh; /* last seen; -1: none */
    int64_t gap_ms;               /* time without a reading, where it is integrated */
    bool integrated;
};

struct interval {
    struct mono since;
    int64_t spare_mj, solar_mj;
    struct load_totals loads[SETTINGS_LOADS_MAX]; /* totals when the interval began */
    int64_t import_mj, export_mj;
};

struct control_client {
    int fd; /* -1: none */
    size_t used;
    char line[SITE_REQUEST_MAX];
};

struct site {
    char settings_path[256];
    char maps_dir[256];
    struct settings *settings;
    struct clock *clock;
    struct moment now;
    struct mono started;
    bool stopping;
    bool news; /* an output has confirmed at once: another turn is due */

    struct mailbox *answers; /* struct bus_answer */
    struct mailbox *inbox;   /* struct mqtt_message */
    struct bus *buses[SETTINGS_BUSES_MAX];
    uint64_t bus_progress[SETTINGS_BUSES_MAX]; /* as of the last pat on the watchdog */
    int bus_under_way[SETTINGS_BUSES_MAX];
    uint8_t generation; /* of the buses, 0..15 */
    int under_way; /* jobs posted and not yet answered */
    struct outputs *outputs;
    struct outputs *retired; /* of loads that a reload has removed */
    struct mqtt *mqtt;
    struct ledger *ledger;
    int control_fd; /* listening; -1: none */
    struct control_client clients[SITE_CLIENTS_MAX];

    struct rules_memory memory;
    struct load_memory loads[SETTINGS_LOADS_MAX];
    struct decision decisions[SETTINGS_LOADS_MAX];
    enum reason_code told[SETTINGS_LOADS_MAX]; /* the reason last written down */
    enum reason_code published[SETTINGS_LOADS_MAX];
    struct mono texts_due; /* of slowly changing values on the broker */
    bool adopt[SETTINGS_LOADS_MAX]; /* remembered on: adopted if it reads back on */
    struct confirmation confirmed[SETTINGS_LOADS_MAX]; /* as the engine was last told */
    struct load_power load_power[SETTINGS_LOADS_MAX];
    struct command commands[SITE_COMMANDS_MAX];
    uint16_t command_count;
    struct rules_outcome outcome;

    struct meter_watch meters[SETTINGS_METERS_MAX];
    struct reading reading;
    uint32_t sequence;
    struct grid_energy grid;
    struct interval history; /* since its last row of history */
    struct mono commit_due;

    struct site_trouble troubles[SITE_TROUBLES_MAX];
    int trouble_count;
};

/* ---- start.c: begin and end ------------------------------------------------- */

/* Takes the settings over, also where it fails. */
bool site_start(struct site *site, struct settings *settings, struct trouble *trouble);
void site_stop(struct site *site);
bool site_open_buses(struct site *site, struct trouble *trouble);
bool site_open_outputs(struct site *site, struct trouble *trouble);
void site_listen(struct site *site); /* to what the outputs' devices report */
struct output_doors site_output_doors(struct site *site);

/* ---- loop.c ------------------------------------------------------------------ */

/* Runs until a signal, or until the granted clock ends. Returns the exit status. */
int site_run(struct site *site);

/* ---- meters.c ---------------------------------------------------------------- */

void meters_begin(struct site *site);
void meters_ask(struct site *site);                     /* posts the reads that are due */
void meters_answer(struct site *site, const struct bus_answer *answer);
struct mono meters_next(const struct site *site);
void meters_settle(struct site *site);                  /* the reading as of now */

/* ---- engine.c ---------------------------------------------------------------- */

void engine_turn(struct site *site);
bool engine_order(struct site *site, const struct command *command);

/* ---- orders.c: the same orders by socket and by MQTT --------------------------- */

/* Each answers in words, and says whether it was obeyed. */
bool order_load(struct site *site, const char *load, const char *text, struct text *answer);
bool order_holiday(struct site *site, const char *text, struct text *answer);
bool order_inhibit(struct site *site, const char *load, const char *yes_no, struct text *answer);
bool order_enable(struct site *site, const char *load, const char *yes_no, struct text *answer);

/* ---- grid.c, remember.c --------------------------------------------------------- */

void grid_book(struct site *site, int64_t dt_ms);       /* between two turns */
void grid_registers(struct site *site, const struct meter_sample *sample);
enum { BOOT_ID_SIZE = 40 };
void remember_boot_id(const struct site *site, char boot[static BOOT_ID_SIZE]);
void remember_book(struct site *site, int64_t dt_ms);
void remember_restore(struct site *site);
void remember_turn(struct site *site);                  /* history and commits that are due */
void remember_now(struct site *site);
void remember_stop(struct site *site);                  /* with the last, shorter row of history */

/* ---- publish.c, status.c, control.c ---------------------------------------------- */

void publish_start(struct site *site);
void publish_describe(struct site *site);               /* after a reload */
void publish_turn(struct site *site);
void publish_take_orders(struct site *site);
char *status_text(struct site *site);                   /* JSON on one line; free it */
bool control_open(struct site *site, struct trouble *trouble);
int control_accept(struct site *site);                  /* the new client's descriptor, or -1 */
void control_serve(struct site *site, int fd);
void control_close(struct site *site);

/* ---- reload.c, fail_state.c -------------------------------------------------------- */

/* True: the new settings are in force. False: nothing has changed, and `answer`
 * says what is wrong with the file. */
bool site_reload(struct site *site, struct text *answer);
/* Brings every output to its fail state and ends: the stop helper's work. */
int fail_state_run(struct settings *settings);

/* ---- troubles.c ---------------------------------------------------------------------- */

void site_trouble(struct site *site, const char *id, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void site_solved(struct site *site, const char *id);
void site_note(struct site *site, const char *subject, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* ---- words.c --------------------------------------------------------------------------- */

/* "2026-01-14T10:00:00+11:00" (RFC 3339). */
void time_text(const struct zone *zone, struct wall wall, struct text *text);
void reason_text(const struct site *site, uint16_t load, struct text *text);

#endif
