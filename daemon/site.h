/* site.h - all that one running daemon has: the settings in force, the engine's
 * memory, and the edges. One thread, the loop's, owns it; the edges' own threads
 * see only their mailboxes. */
#ifndef SLUICE_DAEMON_SITE_H
#define SLUICE_DAEMON_SITE_H

#include <pthread.h>
#include <stdatomic.h>

#include "bus/bus.h"
#include "gateway/gateway.h"
#include "ledger/ledger.h"
#include "loop/clock.h"
#include "loop/mailbox.h"
#include "meter/plausible.h"
#include "meter/total.h"
#include "mqtt/mqtt.h"
#include "output/output.h"
#include "rules/rules.h"
#include "settings/settings.h"
#include "terms/order.h"

enum {
    /* an output each, a meter twice, a bus, and some of the site's own */
    SITE_TROUBLES_MAX = SETTINGS_LOADS_MAX + 2 * SETTINGS_METERS_MAX + SETTINGS_BUSES_MAX + 16,
    SITE_TROUBLE_KIND_MAX = 12,
    SITE_TROUBLE_TEXT_MAX = 200,
    /* of each load: by hand, inhibit, enable; and holiday and inhibit of all */
    SITE_COMMANDS_MAX = SETTINGS_LOADS_MAX * 3 + 2,
    SITE_CLIENTS_MAX = 8,
    SITE_REQUEST_MAX = 256,
    SITE_STATE_DIR_MAX = 192,
};

/* Something that is wrong now, and stays in the list until it is not. */
struct site_trouble {
    char id[MQTT_ID_MAX];
    char text[SITE_TROUBLE_TEXT_MAX];
};

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
};

struct interval {
    struct mono since;
    int64_t spare_mj, solar_mj;
    struct load_totals loads[SETTINGS_LOADS_MAX]; /* totals when the interval began */
    int64_t import_mj, export_mj;
};

/* order_gate.c */
enum order_source { ORDERS_BY_SOCKET, ORDERS_BY_BROKER, ORDER_SOURCES };

struct order_bucket {
    bool begun;
    int64_t tokens;
    struct mono since; /* the tokens were as many then */
};

struct order_gate {
    struct order_bucket others, stopping;
    uint32_t dropped; /* in this burst */
    struct mono dropped_at;
};

struct orders {
    struct order_gate gate[ORDER_SOURCES];
    struct order_bucket saves;
    struct order_bucket *spent; /* from which the order at hand took its token; NULL: from none */
    bool record;                /* the order at hand is written down */
    bool unsaved;               /* an order has changed something since the last save */
    struct mono told_until[SETTINGS_LOADS_MAX]; /* the end of an order as last written down */
};

struct control_client {
    int fd;           /* -1: none */
    uint32_t arrival; /* counts up */
    size_t used;
    char line[SITE_REQUEST_MAX];
};

/* The last accepted settings, on the disk. */
struct accepted_state {
    bool in_force;  /* they are, and not the file at hand */
    struct wall at; /* accepted then; 0: not known */
    pthread_t thread;
    bool running;     /* the thread has not been waited for */
    bool again;       /* what is in force has changed since it began */
    atomic_bool done; /* set by the thread at its end, after */
    int error;        /* 0, or what errno said */
};

struct site {
    char settings_path[256];
    char maps_dir[256];
    char state_dir[SITE_STATE_DIR_MAX]; /* "": no settings are kept */
    struct settings *settings;
    struct accepted_state accepted;
    struct clock *clock;
    struct moment now;
    struct mono started;
    bool stopping;
    bool news; /* an output has confirmed at once: another turn is due */

    struct mailbox *answers; /* struct bus_answer */
    struct mailbox *inbox;   /* struct mqtt_message */
    struct bus *buses[SETTINGS_BUSES_MAX];
    uint64_t bus_progress[SETTINGS_BUSES_MAX]; /* as of the last turn */
    struct mono bus_moved[SETTINGS_BUSES_MAX]; /* when it last ended a job, or had none */
    int bus_under_way[SETTINGS_BUSES_MAX];
    struct bus_quality quality[SETTINGS_BUSES_MAX]; /* as of the last look */
    struct mono quality_due;
    struct {
        uint64_t before; /* questions of a master too many, when this window began */
        struct mono since;
        bool were_there; /* in the window before */
    } foreign[SETTINGS_BUSES_MAX];
    uint8_t generation; /* of the buses, 0..15 */
    int under_way;      /* jobs posted and not yet answered */
    struct outputs *outputs;
    struct outputs *retired; /* of loads that a reload has removed */
    struct mono retired_until;
    pthread_t closing;       /* closes what a reload has replaced */
    bool is_closing;
    atomic_bool closed;                 /* set by that thread at its end */
    struct gateway *gateway;            /* NULL: none */
    struct gateway_state gateway_state; /* as of the last turn */
    struct mono gateway_moved;
    struct mqtt *mqtt;
    struct mono broker_since; /* connected without a break since then; MONO_NEVER: not */
    struct ledger *ledger;
    int control_fd; /* listening; -1: none */
    struct control_client clients[SITE_CLIENTS_MAX];
    uint32_t arrivals;

    struct rules_memory memory;
    struct load_memory loads[SETTINGS_LOADS_MAX];
    struct heat_memory *heat[SETTINGS_LOADS_MAX]; /* of those that learn; else NULL */
    uint8_t heat_saved[SETTINGS_LOADS_MAX];       /* the newest day that the ledger has */
    struct decision decisions[SETTINGS_LOADS_MAX];
    enum reason_code told[SETTINGS_LOADS_MAX]; /* the reason last written down */
    bool was_on[SETTINGS_LOADS_MAX];           /* decided a turn ago */
    enum reason_code published[SETTINGS_LOADS_MAX];
    struct mono texts_due;          /* of slowly changing values on the broker */
    bool adopt[SETTINGS_LOADS_MAX]; /* remembered on: adopted if it reads back on */
    struct confirmation confirmed[SETTINGS_LOADS_MAX]; /* as the engine was last told */
    struct load_reading load_reading[SETTINGS_LOADS_MAX];
    struct command commands[SITE_COMMANDS_MAX];
    uint16_t command_count;
    struct orders orders;
    struct rules_outcome outcome;

    struct meter_watch meters[SETTINGS_METERS_MAX];
    struct reading reading;
    struct grid_energy grid;
    struct interval history; /* since its last row of history */
    struct mono commit_due;
    char ordered[LEDGER_ORDERS_MAX]; /* people's orders, as last given to the ledger */
    bool keep_now; /* something happened that no crash may undo */

    struct site_trouble troubles[SITE_TROUBLES_MAX];
    int trouble_count;
};

#endif
