/* rules.h - decides which loads run.
 *
 * Pure: the same settings, memory, input and moment give the same decisions, bit
 * for bit, on every processor; it allocates nothing and reads no clock. One call
 * is one turn. What it decides is written out in TABLE.md, section by section;
 * the sources name those sections. Cost: O(loads), no system call. */
#ifndef SLUICE_RULES_RULES_H
#define SLUICE_RULES_RULES_H

#include "core/hours.h"
#include "core/setting.h"
#include "heat/heat.h"
#include "observe/observe.h"
#include "tariff/tariff.h"
#include "terms/command.h"
#include "terms/confirmation.h"
#include "terms/decision.h"
#include "terms/floor.h"
#include "terms/reading.h"

enum {
    RULES_FLOORS_MAX = 4,
    RULES_STAGES_MAX = 4,
    RULES_GROUPS_MAX = 8,
    RULES_STARTS_MAX = 12,
    RULES_NO_GROUP = 0xff,
    RULES_EVENTS_MAX = 16,
    RULES_START_LEARNT = 1, /* start_permille: what heat is worth decides */
};

#define RULES_NO_DAY INT64_MIN

enum load_kind {
    LOAD_SWITCHED, /* one contactor */
    LOAD_STAGED,   /* several contactors, closed one after another */
    LOAD_SETPOINT, /* follows a set-point in watts or amps */
    LOAD_REQUEST,  /* a start contact that the load obeys in its own time; never its supply */
};

enum floor_grid {
    FLOOR_AT_LATEST_START,
    FLOOR_IN_CHEAPEST_HOURS, /* bought in the cheapest hours that still keep it */
};

struct floor_settings {
    uint8_t measure;     /* enum floor_measure */
    uint8_t grid;        /* enum floor_grid */
    uint8_t weekdays;    /* days that have a deadline; bit 0 is Monday */
    uint16_t every_days; /* 0: each day of `weekdays`; N: at least once in N days */
    int32_t by_s;        /* the deadline, local second of the day, 0..86400 */
    int32_t reserve_ms;  /* kept free before the deadline */
    int64_t amount;      /* ms, mWh, or for FLOOR_SATISFIED the heat-up time to plan for, ms */
};

struct load_settings {
    uint8_t kind;      /* enum load_kind */
    uint16_t priority; /* 1 is served first; equals in the order of the settings */
    uint8_t phases;    /* bit 0 is L1; never 0 */
    int32_t power_w;   /* nameplate; staged: of all stages; set-point: most */
    uint8_t stages;    /* staged: contactors, 1..RULES_STAGES_MAX */
    int32_t stage_w[RULES_STAGES_MAX];
    int32_t least_w, step_w; /* set-point: least when on, and its steps (>= 1) */
    bool uses_spare;
    bool thermostat;         /* it may stop drawing by itself: no draw means satisfied */
    bool metered;            /* its power is read by a meter of its own */
    bool motor;              /* a pump or the like: the settings' defaults are calmer */
    bool strict;             /* hours and daily maximum bind manual runs too */
    bool normal_on_holiday;  /* false: off while the household is away */
    uint16_t start_permille; /* start fraction of the power; 0: derived from the tariff;
                                RULES_START_LEARNT */
    int32_t stop_margin_w;   /* stops when spare has fallen this far below the start's */
    int32_t settle_start_ms, settle_stop_ms;
    int32_t min_on_ms, min_off_ms;
    uint8_t starts_per_hour;    /* 0: not limited; else 1..RULES_STARTS_MAX */
    struct hours hours;         /* they lie within those of the supply */
    struct hours supply_hours;  /* of its off-peak supply; count 0: always on */
    int32_t daily_max_ms;       /* 0: none */
    uint8_t group;              /* index of the group, or RULES_NO_GROUP */
    int32_t retry_ms;           /* a satisfied load is tried again on spare after this */
    int32_t heat_up_ms;         /* before a holiday's end; 0: nothing to heat */
    struct heat_settings water; /* volume 0: not a water heater */
    uint8_t floor_count;
    struct floor_settings floor[RULES_FLOORS_MAX];
};

struct group_settings {
    char name[32];
    int32_t limit_ma; /* per phase; 0: none */
    bool one_at_a_time;
};

enum billing { BILLING_NET, BILLING_PER_PHASE };

struct rules_settings {
    uint16_t load_count;
    const struct load_settings *loads;
    const uint16_t *order; /* load indices by priority, see rules_order() */
    struct zone zone;
    struct tariff tariff;
    uint8_t phase_count;                /* 1..3 */
    uint8_t billing;                    /* enum billing */
    int32_t voltage_mv;                 /* nominal, phase to neutral */
    int32_t margin_w;                   /* left unused when counting spare power */
    int32_t supply_limit_ma;            /* per phase; 0: not known */
    bool battery;                       /* there is one: without its reading nothing is spare */
    bool solar;                         /* a meter of solar power is set up */
    uint16_t battery_reserved_permille; /* share of its charging that is not spare */
    int32_t export_limit_w;             /* where the inverter throttles; 0: it does not */
    uint8_t probes_per_day;             /* 0: never probe */
    int32_t probe_wait_ms;
    struct hours quiet;        /* count 0: none */
    int32_t start_gap_ms;      /* between two starts */
    int32_t restart_spread_ms; /* random delay of the first start after the daemon's */
    uint8_t group_count;
    struct group_settings group[RULES_GROUPS_MAX];
};

extern const struct setting_rows rules_site_rows;  /* struct rules_settings */
extern const struct setting_rows rules_load_rows;  /* struct load_settings */
extern const struct setting_rows rules_floor_rows; /* struct floor_settings */
extern const struct setting_rows rules_group_rows; /* struct group_settings */

/* What of a motor takes the place of a duration that is not written. */
struct motor_default {
    const char *key; /* NULL ends the list */
    size_t offset;   /* in struct load_settings, an int32_t */
    int32_t ms;
};
extern const struct motor_default rules_motor_defaults[];

/* Fills `order` (load_count entries) for settings->order. */
void rules_order(const struct load_settings loads[], uint16_t count, uint16_t order[]);

/* What cannot be kept by any weather: a floor that does not fit its hours, daily
 * maximum or rests; a fraction without prices to derive it from. False: `trouble`
 * names the first; its place is "LOAD_INDEX" or "LOAD_INDEX.FLOOR_INDEX". */
bool rules_settings_check(const struct rules_settings *settings, struct trouble *trouble);

/* ---- memory ---------------------------------------------------------------- */

/* What can keep a due floor from being served. */
enum denied_by {
    DENIED_HOURS,
    DENIED_RESTS,
    DENIED_ORDER,
    DENIED_OUTPUT,
    DENIED_SUPPLY,
    DENIED_BOARD, /* an input, its switch at the board, or its off-peak supply */
    DENIED_COUNT
};

struct floor_memory {
    bool begun, met, extended, elapsed; /* elapsed: counted in 24 h without a trusted clock */
    int64_t start_ms, deadline_ms;      /* wall, or mono while `elapsed` */
    int64_t done;                       /* ms, or mJ for energy, in this period */
    int64_t unproven;                   /* of `done`, what was counted without evidence */
    bool blind;                         /* met, but not by what is proven */
    int64_t denied_ms[DENIED_COUNT];    /* while due and not on, by what kept it off */
    struct floor_left {                 /* the period that the clock left last */
        bool known, met, blind;
        int64_t start_ms, deadline_ms, done, unproven;
    } left;
    bool due; /* as of the last turn */
    /* cache of the calendar, valid until load_memory.calendar_until */
    int64_t open_today_ms, open_later_ms; /* permitted after that edge, before the deadline */
    int64_t cheap_after_ms;
};

struct load_totals {
    int64_t spare_mj, grid_mj; /* energy drawn, by where it came from; W x ms = mJ */
    int64_t assumed_mj;        /* of both together, what nothing showed */
    int64_t on_ms, draw_ms;
    int64_t starts;
};

enum hand { HAND_AUTO, HAND_ON, HAND_OFF };

/* What every turn looks at stands first and together: with many loads a turn takes as
 * long as it waits for memory. */
struct load_memory {
    uint8_t state;  /* enum load_state */
    uint8_t basis;  /* enum basis of the last turn */
    uint8_t health; /* enum output_health */
    uint8_t hand;   /* enum hand */
    uint8_t test;   /* enum hand: stands above `hand` while it is not HAND_AUTO */
    bool inhibited, disabled;
    bool confirmed_once; /* its output has been confirmed since the beginning */
    bool relief;         /* switched off, and the meter has not shown it yet */
    bool open;           /* cache of the calendar: its hours hold */
    bool unsupplied;     /* the same: its supply is off by the clock */
    uint8_t stage;
    uint8_t start_count;
    uint8_t denied;          /* enum denied_by of the last turn */
    uint16_t start_permille; /* in force */
    uint16_t yields_to;      /* load that this one gave way to, or LOAD_ALL */
    bool ahead;              /* heat costs less now than it will be worth */
    bool not_worth;          /* and less is it worth than even spare power brings */
    bool could_known;
    int32_t could_w;          /* what it could have taken since the last turn */
    struct heat_memory *heat; /* the caller's, or NULL: it learns nothing */
    int32_t level_w;
    int32_t relief_w;
    int32_t lowered_w;         /* what the supply's limit took off it, not yet shown either */
    int32_t raised_w;          /* of its last raise, what the meter has not had time to show */
    struct load_notes {        /* of the turn under way, so that no turn needs memory of its own */
        uint8_t pools, spread; /* pools its power lies on, and how many */
        int8_t due_floor, cheap_floor; /* -1: none */
        int32_t own_w, expected_w, gives_w;
        bool shed, returning;
        bool may_rest; /* each floor that is due can be kept after a stop */
        bool rests;    /* it is to be switched off to show what it draws */
        uint8_t heard; /* enum heard: what its store may take from observing */
        bool held;     /* may start once the meter has settled: its place is taken */
    } notes;
    struct mono since;                     /* of `state` */
    struct mono enough_since, short_since; /* MONO_NEVER: not so */
    int64_t on_today_ms;
    struct draw_memory draw;
    struct floor_memory floor[RULES_FLOORS_MAX];

    int64_t open_until_ms;  /* cache of the calendar: wall */
    struct mono held_until; /* after a shed: not before */
    struct mono rest_again; /* switched off to show what it draws: not again before */
    struct mono restart_at; /* after the daemon's start: not before */
    struct mono hand_until;
    struct mono test_until;                     /* not remembered: a restart ends a test */
    struct mono level_since;                    /* last change of the level while on */
    struct mono raised, lowered;                /* staged: last time a contactor closed, opened */
    struct mono takeover_since, takeover_retry; /* MONO_NEVER / 0 */
    struct mono takeover_again;                 /* after one that went well: not before */
    int32_t takeover_failed_w;                  /* what the last failed one had promised */
    int32_t hand_level_w;
    struct mono start[RULES_STARTS_MAX]; /* newest last */
    struct load_totals total, today;
};

struct rules_memory {
    bool begun;
    struct moment last; /* of the last turn */
    struct observe_memory looks;
    int32_t last_import_w; /* import plus battery discharge; -1: not known */
    bool trusted;          /* the wall clock has been trustworthy once */
    struct mono untrusted_since;
    int64_t today; /* local day number, or 24 h spells while not trusted; RULES_NO_DAY */
    struct wall calendar_from, calendar_until; /* the cache holds in [from, until) */
    int32_t price_micro, feed_in_micro;
    bool quiet;
    struct wall holiday_back; /* 0: nobody is away */
    bool all_inhibited;
    bool unchecked; /* read back or migrated, and no trusted clock has looked at it since */
    struct mono last_start;
    struct mono throttled_since, last_probe;
    uint16_t probes_today;
    uint16_t takeover_load; /* whose takeover is under way, or LOAD_ALL */
    int32_t takeover_promised_w;
    uint64_t seed;
    bool learns;               /* some load has a heat_memory */
    struct mono heat_tick;     /* when their stores are looked at next */
    struct load_memory *loads; /* the caller's, load_count of them */
};

/* Begins: nothing is on, a whole minimum off from now; first starts are spread
 * at random by `seed`. */
void rules_begin(const struct rules_settings *settings, struct rules_memory *memory,
                 struct load_memory loads[], struct moment now, uint64_t seed);

/* After rules_begin and rules_load_restore: a water heater whose start fraction is learnt
 * keeps what it learns in `heat`, which stays the caller's and is begun anew; without it the
 * fraction is derived. */
void rules_learn(const struct rules_settings *settings, struct rules_memory *memory, uint16_t load,
                 struct heat_memory *heat);
/* Its `heat` is the caller's alone again. */
void rules_learn_no_more(const struct rules_settings *settings, struct rules_memory *memory,
                         uint16_t load);

/* After rules_begin: the output was read back on and was remembered on. Minimum
 * on begins afresh. */
void rules_adopt(const struct rules_settings *settings, struct rules_memory *memory, uint16_t load,
                 struct moment now);

/* What must survive, as lines "key=value"; ages and wall times, never mono; and beside it
 * the settings that it rests on. */
void rules_load_save(const struct rules_settings *settings, const struct rules_memory *memory,
                     uint16_t load, struct text *text);
void rules_site_save(const struct rules_memory *memory, struct text *text);

/* After rules_begin. Keys that are not known are passed over, missing ones keep
 * their beginning, values out of bounds are put right and their keys added to `told` (may be
 * NULL). `away_ms` is how long nothing was recorded, -1 where the clock
 * cannot tell; `was_on` comes back true if it was on when saved. Ends in rules_load_migrate.
 * False: the note is not as it was written. Then floors begin anew, and orders are as they
 * begin: what people ordered is not known from it. */
bool rules_load_restore(const struct rules_settings *settings, struct rules_memory *memory,
                        uint16_t load, const char *text, struct moment now, int64_t away_ms,
                        bool *was_on, struct text *told);
bool rules_site_restore(struct rules_memory *memory, const char *text, struct text *told);

/* What people ordered of the load alone, for a copy of their orders: only where something is in
 * force. */
void rules_orders_save(const struct rules_memory *memory, uint16_t load, const char *prefix,
                       struct mono now, struct text *text);
void rules_orders_restore(struct rules_memory *memory, uint16_t load, const char *prefix,
                          const char *text, struct mono now, int64_t away_ms);

/* What the load remembers under the settings `before` becomes what holds under its own: at a
 * restart and at a reload. Every field is within its bounds afterwards; a floor keeps what was
 * done where its periods are the same, and is no longer met where it asks for more. */
void rules_load_migrate(const struct rules_settings *settings, struct rules_memory *memory,
                        uint16_t load, const struct load_settings *before, struct moment now,
                        struct text *told);

/* ---- one turn -------------------------------------------------------------- */

struct rules_input {
    const struct reading *reading;           /* never NULL; its sources may be absent */
    const struct load_reading *load_reading; /* of each load; NULL: nothing is measured at any */
    const struct command *commands;
    uint16_t command_count;
    const struct confirmation *confirmations; /* the newest of each output that has news */
    uint16_t confirmation_count;
    struct moment now;
};

enum rules_event_kind {
    EVENT_FLOOR_MET,     /* floor */
    EVENT_FLOOR_MISSED,  /* floor; number: how much was missing (ms or mWh) */
    EVENT_SATISFIED,     /* thermostat opened after heating, proven; number: 1: unsure */
    EVENT_POWER_DIFFERS, /* number: measured_w: more than 12 % off the nameplate */
    EVENT_HAND_ENDED,
    EVENT_SHED,           /* supply limit passed */
    EVENT_FOUND_ON,       /* its output is on though it was ordered off: another hand */
    EVENT_FOUND_OFF,      /* its output is off though it was ordered on: another hand, or a reset */
    EVENT_NO_DRAW,        /* it draws nothing when on, and it is not known why */
    EVENT_STUCK,          /* off, and the meter did not fall; number: draw_w */
    EVENT_FLOOR_UNPROVEN, /* floor (`number`) was run, but whether it drew is not known */
    EVENT_DAY_ENDED,      /* of the whole site: today's counters begin again */
};

struct rules_event {
    uint8_t kind;
    uint8_t floor;
    uint16_t load;
    int64_t number;
    int64_t denied_ms[DENIED_COUNT];
};

struct rules_outcome {
    struct mono holds_until; /* with the same reading renewed and no news, nothing is decided
                                otherwise before */
    int32_t spare_w;         /* what the rules count as spare now; INT32_MIN: not known */
    uint8_t event_count;
    struct rules_event event[RULES_EVENTS_MAX];
    struct observed observed; /* for statistics */
};

/* Writes load_count decisions. */
void rules_turn(const struct rules_settings *settings, struct rules_memory *memory,
                const struct rules_input *input, struct decision decisions[],
                struct rules_outcome *outcome);

/* What an order will come to: the turn that would follow on `input`, taken on a copy.
 * `loads` and `decisions` are the caller's, load_count of each; they come back as that turn
 * left them. A manual run of `load` that has to wait for a known time is looked at again
 * after it: decisions[load] is then that of `wait_ms` later, if the order lasts so long. */
struct foresight {
    struct load_memory *loads;
    struct decision *decisions;
    int64_t wait_ms;
    struct decision waiting; /* with a wait: what it is at first */
};
void rules_foresee(const struct rules_settings *settings, const struct rules_memory *memory,
                   const struct rules_input *input, uint16_t load, struct foresight *foresight);

/* The heat-up before a holiday that ends at `back`, as of `now`. */
struct return_view {
    bool heats_up;    /* false: this load is not heated for the return */
    struct wall from; /* when it begins, at the earliest */
    int64_t short_ms; /* of the heat-up, what the time and the hours before the return lack */
};
struct return_view rules_return(const struct rules_settings *settings, uint16_t load,
                                struct wall now, struct wall back);

/* How much longer it must stay on, and stay off, by its rests, as of the last turn. */
struct rests_view {
    int64_t on_ms;             /* minimum on */
    int64_t off_ms, starts_ms; /* minimum off; starts per hour: 0 while it is on */
};
struct rests_view rules_rests(const struct rules_settings *settings,
                              const struct rules_memory *memory, uint16_t load);

/* What the engine believes of a load's draw after the last turn. */
const struct draw_view *rules_draw(const struct rules_memory *memory, uint16_t load);

/* The latest moment (wall, or mono while elapsed) at which a floor's run must
 * begin, within its hours, and what is left of it (ms of run, or mWh), for people. */
struct floor_view {
    bool begun; /* false: no period holds yet, the clock is being waited for */
    bool met, due, elapsed;
    bool blind; /* met, but counted without evidence: whether it drew is not known */
    int64_t amount, done, left; /* ms or mWh */
    int64_t deadline_ms, latest_start_ms;
    struct { /* the period before; not known: there was none, or the clock has come back to it */
        bool known, met, blind;
        int64_t deadline_ms, done; /* ms or mWh */
    } last;
};
struct floor_view rules_floor(const struct rules_settings *settings,
                              const struct rules_memory *memory, uint16_t load, uint8_t floor);

#endif
