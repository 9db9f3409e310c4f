/* output.h - from a decision to a contactor, and back the news of it.
 *
 * Back ends are rows (backend.h). Each can set a level; those whose device can be read back are,
 * after each write and every so often, and the truth is what was read. An output has what is wanted
 * of it, and what its device last said and when; in between, it is not known. Silence is borne for
 * a minute, then reported as failed; an order that is refused or not followed is tried a few times,
 * then reported as failed or unsafe; all of it is tried on, and ends when the device shows what is
 * wanted. A device that contradicts again and again is locked out for a while (channel.c). Never
 * blocks: bus jobs are posted, their answers come in through outputs_answer. */
#ifndef SLUICE_OUTPUT_OUTPUT_H
#define SLUICE_OUTPUT_OUTPUT_H

#include "bus/bus.h"
#include "core/moment.h"
#include "core/setting.h"
#include "output/kinds.h"
#include "terms/confirmation.h"

/* OUTPUT_COIL, OUTPUT_REGISTER ...: the list is in meson.build, what each is in its back end. */
#define KIND(NAME, name) OUTPUT_##NAME,
enum output_kind { OUTPUT_KINDS };
#undef KIND
enum output_fail_state { OUTPUT_FAIL_OFF, OUTPUT_FAIL_ON };

enum {
    OUTPUT_CONTACTORS_MAX = 4, /* a staged load has one address for each contactor */
    OUTPUT_OWN_BYTES = 384,
};

struct output_settings {
    uint8_t kind; /* enum output_kind */
    /* Kinds on a bus. */
    char bus[32]; /* name; resolved by settings into bus_index */
    uint8_t bus_index;
    uint8_t unit;
    uint16_t address[OUTPUT_CONTACTORS_MAX]; /* coil or register, 0-based */
    uint8_t contactors;
    bool read_back;
    /* Set-points only; both 0 for a load that is on or off. A register counts in
     * these steps, a topic carries W or A in multiples of them; rounded down. */
    int32_t scale_w;  /* watts for one count */
    int32_t scale_ma; /* milliamps for one count: the set-point is in amps; goes before scale_w */
    int32_t watts_per_amp; /* phases x voltage, filled by settings */
    bool normally_closed;  /* the load hangs on the normally closed contact: coil on is load off */
    uint8_t fail_state;    /* enum output_fail_state, of the load, whatever the contact */
    /* What belongs to one kind alone: only its file looks inside. */
    _Alignas(8) unsigned char own[OUTPUT_OWN_BYTES];
};

extern struct setting_rows output_setting_rows; /* output_rows.c: the same from main on */

/* Whether its device can ever say what it has: it is read back, or reports. */
bool output_can_say(const struct output_settings *settings);
/* Both switch the same thing. */
bool output_same_place(const struct output_settings *a, const struct output_settings *b);
/* Where its device reports what it has; "": nowhere. */
const char *output_state_topic(const struct output_settings *settings);

struct outputs;

/* What the outputs need of the world; the daemon fills it in. */
struct output_doors {
    void *context;
    bool (*post)(void *context, uint8_t bus_index, const struct bus_job *job);
    bool (*publish)(void *context, const char *topic, const char *payload); /* false: broker away */
};

/* `settings[i]` belongs to load i. Copies them. Opens GPIO lines as they are
 * (no switching). Job ids are job_base + something below 65536. */
struct outputs *outputs_new(const struct output_settings settings[], uint16_t count,
                            uint32_t job_base, const struct output_doors *doors,
                            struct trouble *trouble);
void outputs_free(struct outputs *outputs);

/* Asks each device that can be read back for its state, without switching. */
void outputs_probe(struct outputs *outputs, struct mono now);

/* What load `load` shall be. `stage` counts closed contactors. */
void outputs_want(struct outputs *outputs, uint16_t load, int32_t level_w, uint8_t stage,
                  struct mono now);

/* To be called each turn: posts what is due (writes, retries, read-backs). True:
 * news, as outputs_answer; for what answers at once (lines, topics). */
bool outputs_turn(struct outputs *outputs, struct mono now);

/* An answer whose id is ours; posts the read-back that follows a write. True:
 * something is confirmed or has failed, or a device was found changed by another
 * hand: outputs_confirmation and outputs_detail tell. What was found changed is
 * CONFIRMED with the level that it was found at, and stays so until the next
 * outputs_want, whatever that wants. level_w of an output that was found on, before
 * any order, is 1: its power is not known here. */
bool outputs_answer(struct outputs *outputs, const struct bus_answer *answer);
bool outputs_state_message(struct outputs *outputs, const char *topic, const char *payload,
                           size_t length, struct mono now);
struct confirmation outputs_confirmation(const struct outputs *outputs, uint16_t load);

/* What is known of the device. "On" and "off" only where it was asked or has said so since
 * the last order; all else is unknown, and may be on. */
enum output_state { OUTPUT_IS_UNKNOWN, OUTPUT_IS_OFF, OUTPUT_IS_ON };

struct output_view {
    enum output_state state;
    bool has_been_heard; /* since start; then `heard`: when its device last said what it has (of a
                            staged load the contactor that was heard of longest ago) */
    struct mono heard;
};
struct output_view outputs_view(const struct outputs *outputs, uint16_t load);

/* Load `load` is wired as `load_before` of `from` was: what is known and wanted of it goes on, and
 * an opened device is taken along. `from` is then good for nothing but to be freed. */
void outputs_take_over(struct outputs *outputs, uint16_t load, struct outputs *from,
                       uint16_t load_before, struct mono now);
/* The buses were exchanged: answers that are outstanding will not come, which is no failure; each
 * output goes on as it is, and is asked for what it has. */
void outputs_rewired(struct outputs *outputs, struct mono now);

/* Each of them. */
bool outputs_confirmed(const struct outputs *outputs);
/* When outputs_turn has something to do next; MONO_NEVER: when an answer has come. */
struct mono outputs_next(const struct outputs *outputs);

/* True while an order or a read-back is due or not yet answered (lock-step waits
 * for it). A retry that waits for its second, or a device that has yet to
 * report on its state topic, is not waited for. */
bool outputs_busy(const struct outputs *outputs);

/* Orders every output to its fail state. A few tries follow at once (until then
 * outputs_busy is true), more of them for as long as outputs_turn is called, until
 * outputs_confirmed. Set-points fail to 0 whatever fail_state. */
void outputs_fail_state(struct outputs *outputs, struct mono now);

/* The last trouble of this output in words, or "". */
const char *outputs_detail(const struct outputs *outputs, uint16_t load);

#endif
