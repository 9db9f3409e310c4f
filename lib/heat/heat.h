/* heat.h - what stored heat is worth, by what past days say of the coming one.
 *
 * A storage water heater can be heated now or later. Now costs what the meter and the
 * tariff say; later costs what the sun, the household and the tariff will then make
 * of it, and not at all costs cold showers. The worth of a kWh more in the store is
 * what it saves later; heating pays while it costs less. This room learns from the
 * last HEAT_DAYS days how much spare power each half hour brings and what a bright or
 * dull hour says of the next, learns from run time and thermostat when how much hot
 * water is drawn, keeps a belief of how full the store is, and works out the worth
 * backwards in time (R. Bellman, "Dynamic Programming", 1957; the worth of stored
 * water in hydro power is the same reckoning).
 *
 * Pure, whole numbers, no allocation: the same past gives the same worth, bit for bit.
 * Heat counts from cold water on, in mJ (W x ms); the store is taken as one whose heat
 * comes out at full use down to a share `1 - usable` and dwindles below. */
#ifndef SLUICE_HEAT_HEAT_H
#define SLUICE_HEAT_HEAT_H

#include "core/moment.h"
#include "core/setting.h"
#include "core/zone.h"
#include "tariff/tariff.h"

enum {
    HEAT_SLOT_S = 1800,
    HEAT_SLOTS = 48,
    HEAT_DAYS = 28,      /* remembered */
    HEAT_DAYS_LEAST = 3, /* before it says anything */
    HEAT_SKIES = 5,   /* from the dullest fifth of past days to the brightest, at a time of day */
    HEAT_LEVELS = 48, /* of the store, cold to full */
    HEAT_SPREADS = 9, /* how far off it may be, from known to nobody knows */
    HEAT_TICK_MS = 5 * MS_PER_MIN,
};

#define HEAT_NOT_KNOWN INT16_MIN

struct heat_settings {
    int32_t volume_ml; /* 0: not a water heater, nothing is learnt */
    int32_t set_mc, hysteresis_mc;
    int32_t cold_mc, room_mc;
    int32_t loss_mwh;        /* standing loss of a day at 55 K, as AS/NZS 4692.2 tests it */
    int32_t usable_permille; /* of a full store's heat, what comes at the wanted temperature */
    bool probed;             /* the reading tells the store's temperature */
    int32_t probe_permille;  /* at which height, 1000 the top; 0: it is about the mean */
    int32_t missing_micro;   /* what a kWh of hot water that is wanted and not there weighs */
};

extern const struct setting_rows heat_rows; /* struct heat_settings */
/* A probe tells about the mean: nothing need be guessed. */
static inline bool heat_is_seen(const struct heat_settings *settings)
{
    return settings->probed && settings->probe_permille == 0;
}

/* Where a nameplate's standing loss is not given: what its volume lets one expect. */
int32_t heat_usual_loss_mwh(int32_t volume_ml);

/* How an element takes its power. */
enum heat_element { HEAT_SWITCHED, HEAT_FOLLOWS };

struct heat_memory {
    /* What past days had to spare for this load: of each half hour the mean, W. */
    int16_t spare_w[HEAT_DAYS][HEAT_SLOTS];
    uint8_t days, newest; /* how many are known, and where the newest stands */
    int16_t today_w[HEAT_SLOTS];
    int64_t slot_sum_mj, slot_ms; /* of the half hour under way */
    int64_t tick_sum_mj, tick_ms; /* since the last tick */
    int32_t bright;               /* among past days, the dullest 0, in the last hour or so */

    /* When how much heat is drawn. */
    int32_t drawn_j[HEAT_SLOTS];  /* in each half hour of a day, mean */
    int64_t missed_j, expected_j; /* since lumps were last weighed */
    int32_t lump_j;               /* variance over mean: how lumpy the drawing is */

    /* Since the store's heat was last known. */
    bool known;
    int64_t known_mj, in_mj, lost_mj; /* held then; heated and lost since */
    int64_t shown_mj;                 /* of the heat in, when it was last found drawing */
    int64_t passed_ms[HEAT_SLOTS];    /* of each half hour since */

    /* Belief: share of 65536 for each level of the store, moved by `shift_mj`. */
    int32_t belief[HEAT_LEVELS];
    int64_t shift_mj;
    int64_t hot_mj;   /* held in water that is hot: heat goes into the colder water below it */
    bool open;        /* the thermostat has opened, and cannot yet have closed again */
    int64_t spread_j; /* drawn since the belief was last widened, mean */
    int32_t spread_ms;

    /* The reckoning: what is still to pay after so much was heated by each half hour,
     * millionths of the currency. */
    int32_t after[HEAT_SLOTS][HEAT_SKIES][HEAT_SPREADS][HEAT_LEVELS];
    int32_t begin[HEAT_SKIES][HEAT_SPREADS][HEAT_LEVELS]; /* at the day's beginning */
    int32_t edge[HEAT_SLOTS][HEAT_SKIES - 1];             /* of brightness, between skies */
    bool light[HEAT_SLOTS];
    bool reckoned, stale; /* stale: by prices that hold no longer */

    struct local at; /* of the last tick, in all three times */
    int64_t at_mono_ms, at_wall_ms;
    bool begun, resumed; /* resumed: the last tick was another run's, at_mono_ms means nothing */
    uint8_t sky;
    int32_t worth_micro; /* of a kWh more in the store; valid once reckoned */
};

/* Knows nothing yet: the store is taken as half full, draws as a usual day's. */
void heat_begin(const struct heat_settings *settings, struct heat_memory *memory);

/* Prices, element or tank may be others than before: the next tick reckons anew, and what
 * was reckoned holds until then. With another tank than `before`, how full it is begins
 * anew; what the household draws and the roof spares is no matter of the tank. */
void heat_change(const struct heat_settings *before, const struct heat_settings *settings,
                 struct heat_memory *memory);

/* ---- what happens, as it happens -------------------------------------------- */

/* For dt_ms so much was spare for this load, its own draw given back. */
void heat_spare(struct heat_memory *memory, int32_t spare_w, int64_t dt_ms);
void heat_heated(struct heat_memory *memory, int64_t energy_mj);
/* The thermostat has opened after heating: the store is full, and known. */
void heat_full(const struct heat_settings *settings, struct heat_memory *memory);
/* Switched on, it drew, or drew not: the store is below, or within, the hysteresis. */
void heat_found(const struct heat_settings *settings, struct heat_memory *memory, bool draws);
/* More went in since it was last known, or since it is looked after, than it can have taken:
 * its opening was overlooked, as happens where something else comes on in the same moment. */
bool heat_overflows(const struct heat_settings *settings, const struct heat_memory *memory);
/* It goes on drawing: the store is not full yet. Once a tick. */
void heat_goes_on(const struct heat_settings *settings, struct heat_memory *memory);
/* A probe in the store says. At a height it rules out what can't be: no water above it is
 * colder than there, and none below is warmer. */
void heat_sensed(const struct heat_settings *settings, struct heat_memory *memory, int32_t mc);

/* ---- every HEAT_TICK_MS of local time, or when there is reason to ------------- */

struct heat_outlook {
    const struct tariff *tariff;
    enum heat_element element;
    int32_t power_w;
};

/* Lets the store cool and be drawn from for as long as has passed since the last tick,
 * closes half hours and days, reckons anew when a day begins. `local` is `now` there, and
 * must not run backwards by more than a clock change. After half an hour without a tick
 * what was drawn is not learnt from, after an hour the store is as one never seen. */
void heat_tick(const struct heat_settings *settings, struct heat_memory *memory,
               const struct heat_outlook *outlook, const struct local *local,
               const struct moment *now);

/* False: too little is known yet. */
bool heat_knows(const struct heat_memory *memory);

/* False while the thermostat is believed to be open: it would take no heat. */
bool heat_takes(const struct heat_memory *memory);

/* What the store is believed to hold, mJ, and what it holds when full. */
int64_t heat_held_mj(const struct heat_settings *settings, const struct heat_memory *memory);
int64_t heat_full_mj(const struct heat_settings *settings);
int heat_held_percent(const struct heat_settings *settings, const struct heat_memory *memory);

/* ---- surviving --------------------------------------------------------------- */

/* What was learnt, as lines "key=value": of draws and of which days are known; one past
 * day by its place (0..HEAT_DAYS - 1), which is worth writing once, when it ends; and what
 * is under way: the day so far, and how full the store is. */
void heat_save(const struct heat_memory *memory, struct text *text);
void heat_save_day(const struct heat_memory *memory, uint8_t place, struct text *text);
void heat_save_now(const struct heat_settings *settings, const struct heat_memory *memory,
                   struct text *text);

/* After heat_begin; first heat_restore, then each known day from the newest on, then what
 * was under way: the next tick goes on from there, however long that was ago. False: the
 * text is damaged, and nothing of it was taken. */
bool heat_restore(struct heat_memory *memory, const char *text);
bool heat_restore_day(struct heat_memory *memory, uint8_t place, const char *text);
bool heat_restore_now(const struct heat_settings *settings, struct heat_memory *memory,
                      const char *text);

#endif
