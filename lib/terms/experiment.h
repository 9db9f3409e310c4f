/* experiment.h - what one switching of a load, or one change of its draw, showed at the meter.
 *
 * Each is a fact for statistics and no judgement: what was expected, what the meter showed, and
 * how well it could be seen. Steps are changes of what the house takes: a healthy start is
 * +expected, a healthy stop -expected. */
#ifndef SLUICE_TERMS_EXPERIMENT_H
#define SLUICE_TERMS_EXPERIMENT_H

#include "terms/reading.h"

enum experiment_kind {
    EXPERIMENT_START,   /* its contactor closed on our order */
    EXPERIMENT_STOP,    /* its contactor opened on our order */
    EXPERIMENT_OPENED,  /* on, and it stopped drawing without an order */
    EXPERIMENT_CLOSED,  /* on, and it began to draw without an order */
    EXPERIMENT_FOREIGN, /* off, and a step of its size came, up or down, without an order */
};

enum experiment_seen {
    EXPERIMENT_CLEAR,  /* the level showed it, and nothing else of ours was switching */
    EXPERIMENT_MIXED,  /* the level showed it, together with another load's switching */
    EXPERIMENT_UNSEEN, /* no reading, or a throttled inverter may have made up for it */
};

/* So long after a proven opening a load that draws nothing may be hot still: lib/rules/TABLE.md,
 * SATISFIED_COUNTS. */
enum { EXPERIMENT_HOT_MS = 12 * MS_PER_HOUR };

struct experiment {
    uint32_t sequence; /* rises by one with each, over all loads; a gap: one found no room */
    uint16_t load;
    uint8_t kind;      /* enum experiment_kind */
    uint8_t seen;      /* enum experiment_seen */
    bool metered;      /* step_w is what the load's own meter showed */
    bool drew;         /* before it, the load was shown to be drawing (START: though it was off) */
    bool thought_open; /* before it, its thermostat was thought open, or it was shown to draw
                          nothing though on */
    int32_t expected_w, step_w; /* step_w of one UNSEEN: 0, means nothing */
    bool has_phases;
    int32_t phase_step_w[PHASES]; /* of the grid's power alone */
    int32_t window_ms;            /* between the looks before and after: in this time another
                                     appliance's step could be taken for it; 0 where metered */
    int64_t heated_mj;            /* drawn since the last proven opening */
    int64_t since_opened_ms;      /* since that opening; -1: none is known */
    int32_t voltage_mv;           /* mean of its phases as it was told; 0: not known */
    struct moment at;             /* when the contactor moved; else of the look that showed it */
};

/* What the house does by itself: the change from one look to the next while no load of ours was
 * switching and none had changed its draw. Of these another appliance's chance steps are learnt. */
struct background {
    bool known;
    bool has_phases;
    int32_t step_w;
    int32_t phase_step_w[PHASES]; /* of the grid's power alone */
    int32_t spacing_ms;           /* between the two looks */
};

#endif
