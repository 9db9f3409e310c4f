/* gateway.h - others read the meter through us.
 *
 * A serial line allows one master, and here it is us. So the gateway serves the
 * meter to others, over Modbus TCP and over RTU on a second port, in its own thread:
 *
 * - what a poll has read within the stated age is answered from it, register for
 *   register; everything else is passed on to the meter, one question at a time on a
 *   bus, the clients in turn, equal reads of several clients as one;
 * - or a meter is shown as a SunSpec meter, made from its decoded readings.
 *
 * It is read-only unless a range is listed as writable, listens on loopback unless
 * told otherwise, and answers only peers that are listed. A meter that is silent is
 * told as such (exception 0B), never by old numbers. It works in the machine's own
 * time: its clients do too. */
#ifndef SLUICE_GATEWAY_GATEWAY_H
#define SLUICE_GATEWAY_GATEWAY_H

#include "bus/bus.h"
#include "core/setting.h"
#include "meter/meter.h"

enum {
    GATEWAY_SERVED_MAX = 16,
    GATEWAY_RANGES_MAX = 8,
    GATEWAY_ALLOWED_MAX = 16,
    GATEWAY_CONNECTIONS_MAX = 256,
    GATEWAY_BUSES_MAX = 8,
};

enum gateway_view { GATEWAY_REGISTERS, GATEWAY_SUNSPEC, GATEWAY_SUNSPEC_FLOAT };
enum gateway_wiring { GATEWAY_AS_SITE, GATEWAY_SINGLE, GATEWAY_SPLIT, GATEWAY_WYE, GATEWAY_DELTA };

struct gateway_range {
    bool coils; /* else holding registers */
    uint16_t first, last;
};

/* One unit that clients see. */
struct gateway_served {
    char meter[32]; /* the name of one of the meters */
    uint8_t unit;   /* as clients see it; 0: the meter's own */
    uint8_t view;   /* enum gateway_view */
    uint8_t wiring; /* enum gateway_wiring; SunSpec: settled by whoever fills this in */
    uint8_t range_count;
    struct gateway_range range[GATEWAY_RANGES_MAX]; /* writable; GATEWAY_REGISTERS only */
    /* found for the meter's name */
    uint8_t meter_index, bus_index, bus_unit;
    char device[32];               /* what the meter is: its map's name */
    int8_t current_exp, power_exp; /* of the SunSpec scale factors */
};

/* IPv4 addresses are kept mapped into IPv6. */
struct gateway_network {
    uint8_t address[16];
    uint8_t bits; /* of 128 that must be equal */
};

struct gateway_settings {
    bool enabled;
    char listen[48]; /* a numeric address; "": no TCP */
    int32_t tcp_port;
    char port[128]; /* serial device for RTU; "": none */
    int32_t baud;
    uint8_t parity; /* enum parity */
    uint8_t stop_bits;
    int32_t age_ms;  /* how old an answer may be */
    int32_t wait_ms; /* how long a client is kept waiting */
    int32_t connections, connections_each;
    int32_t rate; /* requests a second, each connection */
    int32_t idle_ms;
    uint8_t allowed_count; /* 0: every peer */
    struct gateway_network allowed[GATEWAY_ALLOWED_MAX];
    uint8_t served_count;
    struct gateway_served served[GATEWAY_SERVED_MAX];
};

extern const struct setting_rows gateway_setting_rows; /* struct gateway_settings */
extern const struct setting_rows gateway_served_rows;  /* struct gateway_served */

/* "192.0.2.0/24", "2001:db8::/32", or one address. */
bool gateway_network_parse(const char *text, struct gateway_network *network,
                           struct trouble *trouble);
bool gateway_is_loopback(const struct gateway_network *network);

/* "holding 100-110", "coil 0": addresses as on the wire. */
bool gateway_range_parse(const char *text, struct gateway_range *range, struct trouble *trouble);

/* What it has done since it began, and what is wrong with it. */
struct gateway_state {
    bool at_work;         /* false: it could not begin, and nothing was counted */
    uint64_t turns;       /* rises at least once a second */
    uint64_t answered;    /* from what a poll had read */
    uint64_t passed;      /* questions that went onto a bus */
    uint64_t shared;      /* answers that a client got by another's question */
    uint64_t refused;     /* exceptions of our own */
    uint64_t turned_away; /* connections: not allowed, or too many */
    uint64_t dropped;     /* connections that were idle, slow, or no Modbus */
    int32_t connections;
    char trouble[160]; /* "": both doors that are wanted are open */
};

struct gateway;

/* Begins to listen; a door that can't be opened yet is tried again, and the state
 * says so. `buses` outlive the gateway. `version` goes into the SunSpec view. */
struct gateway *gateway_new(const struct gateway_settings *settings, struct bus *const buses[],
                            uint8_t bus_count, const char *version, struct trouble *trouble);

/* A new decoded sample of the meter with that index, `age_ms` old, signs turned so that
 * import is positive. Never blocks. */
void gateway_sample(struct gateway *gateway, uint8_t meter, const struct meter_sample *sample,
                    int64_t age_ms);

void gateway_look(struct gateway *gateway, struct gateway_state *state);

/* Closes every connection and ends the thread, at once. */
void gateway_free(struct gateway *gateway);

#endif
