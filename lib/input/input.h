/* input.h - contacts that are sensed: push-buttons, switches at the board, contactors and
 * supplies.
 *
 * Each input is read at its own pace, by the bus's worker or from a GPIO line; several of one
 * board come with one question. What is read counts once it has stayed for a moment
 * (debounce.h), and as long as it is fresh. A reading that failed, or a first one, is no press.
 * Never blocks: bus jobs are posted, their answers come in through input_bank_answer. */
#ifndef SLUICE_INPUT_INPUT_H
#define SLUICE_INPUT_INPUT_H

#include "bus/bus.h"
#include "core/setting.h"
#include "core/text.h"
#include "input/debounce.h"
#include "input/kinds.h"

/* INPUT_MODBUS, INPUT_LINE: the list is in meson.build, what each is in its file. */
#define KIND(NAME, name) INPUT_##NAME,
enum input_kind { INPUT_KINDS };
#undef KIND

/* What it means that it is closed. */
enum input_role {
    INPUT_BUTTON,  /* somebody orders a run, or ends it */
    INPUT_IN_HAND, /* the switch at the board runs the load */
    INPUT_AT_OFF,  /* it keeps it off */
    INPUT_IN_AUTO, /* it leaves it to its output */
    INPUT_CONTACT, /* the load's contactor is closed, or there is voltage behind it */
    INPUT_SUPPLY,  /* its off-peak supply has power */
    INPUT_INHIBIT, /* it shall stay off */
};

enum input_table { INPUT_DISCRETE, INPUT_COIL };
enum input_pull { INPUT_PULL_NONE, INPUT_PULL_UP, INPUT_PULL_DOWN };

enum { INPUT_ALL_LOADS = 0xffff };

struct input_settings {
    char name[32];
    uint8_t role; /* enum input_role */
    char load[32];
    uint16_t load_index; /* or INPUT_ALL_LOADS; filled by settings */
    int32_t run_ms;      /* of a button */
    int32_t every_ms, debounce_ms;
    bool active_low; /* an open contact, or a low level, counts as closed */
    uint8_t kind;    /* enum input_kind */
    /* Modbus. */
    char bus[32]; /* name; resolved by settings into bus_index */
    uint8_t bus_index, unit, table;
    uint16_t address;
    /* A GPIO line. */
    char chip[64];
    uint32_t line;
    uint8_t pull;
};

extern const struct setting_rows input_role_rows; /* struct input_settings: what it is for */
extern struct setting_rows input_source_rows;     /* the same from main on: where it is */
bool input_is_on_bus(const struct input_settings *settings);
/* What must be there for its kind, and what that is; NULL: nothing. */
const char *input_needs(const struct input_settings *settings, const char **what);
/* "discrete input 3 of unit 17 on relays" */
void input_name(const struct input_settings *settings, struct text *text);
const char *input_role_word(uint8_t role);

/* ---- all of them --------------------------------------------------------------------------- */

struct input_bank;

struct input_doors {
    void *context;
    bool (*post)(void *context, uint8_t bus_index, const struct bus_job *job);
};

/* Copies the settings. Job ids are job_base + something below `count`. NULL: no memory. */
struct input_bank *input_bank_new(const struct input_settings settings[], uint16_t count,
                                  uint32_t job_base, const struct input_doors *doors,
                                  struct mono now);
void input_bank_free(struct input_bank *bank);

/* Input `index` is input `index_before` of `from`, in another place of the list perhaps: what
 * it was read as goes on, and its line stays open. `from` is then good for nothing but to be
 * freed. */
void input_bank_take_over(struct input_bank *bank, uint16_t index, struct input_bank *from,
                          uint16_t index_before);
/* The same contact in the same role, wherever its bus stands in the list and however often it
 * is read: what it was read as goes on. */
bool input_is_same(const struct input_settings *a, const struct input_settings *b);
/* The buses were exchanged: answers that are outstanding will not come. */
void input_bank_rewired(struct input_bank *bank);

/* Posts the reads that are due, and reads the lines that are. */
void input_bank_ask(struct input_bank *bank, struct mono now);
/* When the next is due; MONO_NEVER: there is none. */
struct mono input_bank_next(const struct input_bank *bank);
/* An answer whose id is one of the bank's. */
void input_bank_answer(struct input_bank *bank, const struct bus_answer *answer);

enum input_trouble {
    INPUT_WELL,
    INPUT_UNREAD,     /* nothing good for as long as a reading is fresh: see detail */
    INPUT_CHATTERS,   /* it never stays */
    INPUT_HELD_CLOSED /* a button, for more than a minute */
};

struct input_view {
    bool known, closed; /* closed: active; the last one that was known, where it is not now */
    bool read;          /* there has been a good reading: the last at `taken` */
    bool was_known;     /* `closed` was so once */
    struct mono taken;
    uint32_t sequence; /* rises with each good reading */
    enum input_trouble trouble;
    const char *detail; /* what the last failed reading said, or "" */
};
struct input_view input_bank_view(const struct input_bank *bank, uint16_t index, struct mono now);

/* Whether it has closed, from a known open, since this was last asked. */
bool input_bank_pressed(struct input_bank *bank, uint16_t index);

#endif
