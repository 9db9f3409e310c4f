/* sensors.h - temperature sensors in tanks that are no meters on a bus: a 1-wire part, a
 * thermistor at an ADC, a topic of the broker.
 *
 * A file of the kernel may take most of a second to be read (a 1-wire part converts for
 * 750 ms): a thread of its own reads them, one after another. Topics come by themselves. What
 * comes is judged (judge.h); what is missing, old or cannot be so is as if there were none. */
#ifndef SLUICE_SENSOR_SENSORS_H
#define SLUICE_SENSOR_SENSORS_H

#include "core/setting.h"
#include "core/text.h"
#include "loop/mailbox.h"
#include "sensor/judge.h"
#include "sensor/kinds.h"
#include "terms/reading.h"

/* SENSOR_ONE_WIRE, SENSOR_NTC, SENSOR_TOPIC: the list is in meson.build, what each is in its
 * file. */
#define KIND(NAME, name) SENSOR_##NAME,
enum sensor_kind_id { SENSOR_KINDS };
#undef KIND

enum sensor_side { SENSOR_TO_GROUND, SENSOR_TO_SUPPLY };

enum { SENSOR_DETAIL_MAX = 160 };

struct sensor_settings {
    char name[32];
    uint8_t kind; /* enum sensor_kind_id */
    char load[32];
    uint16_t load_index; /* filled by settings */
    /* Of those that are read. */
    char file[128];
    int32_t every_ms;
    /* A thermistor. */
    int32_t r25_ohm, beta_k, divider_ohm, supply_mv;
    uint8_t side; /* enum sensor_side: where it goes; the divider's resistor goes to the other */
    /* A topic. */
    char topic[128];
    int32_t max_age_ms;
};

extern struct setting_rows sensor_rows; /* struct sensor_settings; the same from main on */
/* What must be there for its kind, and what that is. */
const char *sensor_needs(const struct sensor_settings *settings, const char **what);
/* What can't work, as its kind judges it. */
void sensor_check(const struct sensor_settings *settings, setting_say *say, void *context);
/* "1-wire file /sys/..." */
void sensor_name(const struct sensor_settings *settings, struct text *text);
/* How long a good value is good for. */
int64_t sensor_fresh_ms(const struct sensor_settings *settings);

/* ---- all of them ---------------------------------------------------------------------------- */

/* What the thread found; goes through the mailbox of answers. */
struct sensor_answer {
    uint8_t round; /* of the sensors that asked */
    uint8_t index;
    bool read;
    int32_t mc;
    char detail[SENSOR_DETAIL_MAX]; /* why not, where it was not read */
};

struct sensors;

/* Copies the settings. `answers` holds struct sensor_answer and outlives them; it needs room
 * for `count` of each round. NULL: no memory, or no thread. */
struct sensors *sensors_new(const struct sensor_settings settings[], uint8_t count, uint8_t round,
                            struct mailbox *answers, struct mono now);
/* Waits for a file that is being read. */
void sensors_free(struct sensors *sensors);

/* Sensor `index` is `index_before` of `from`, at the same place: what it said goes on. */
void sensors_take_over(struct sensors *sensors, uint8_t index, const struct sensors *from,
                       uint8_t index_before);
bool sensor_is_same(const struct sensor_settings *a, const struct sensor_settings *b);

/* Has those read that are due. Never blocks. */
void sensors_ask(struct sensors *sensors, struct mono now);
struct mono sensors_next(const struct sensors *sensors); /* MONO_NEVER: none is due */
int sensors_under_way(const struct sensors *sensors);
/* One of another round is not taken. */
void sensors_answer(struct sensors *sensors, const struct sensor_answer *answer, struct mono now);
/* A message of a topic listened to. A retained one says nothing of now. */
void sensors_message(struct sensors *sensors, const char *topic, const char *payload, bool retained,
                     struct mono now);

struct sensor_view {
    struct source source; /* READING_FRESH: `mc` may be used */
    int32_t mc;
    enum sensor_fault fault; /* of the newest value */
    bool troubled;           /* nothing good for as long as a value is good for, or stuck */
    const char *detail;      /* why the newest could not be read, or "" */
};
struct sensor_view sensors_view(const struct sensors *sensors, uint8_t index, struct mono now);

#endif
