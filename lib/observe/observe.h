/* observe.h - what each load really does, from everything that shows it.
 *
 * Given is what was ordered of a load, what its output confirmed and what it is expected to
 * take, and the reading; back comes what was seen of it (draw_view), until when that holds, and
 * what is news. It decides nothing and orders nothing. Section 5 of lib/rules/TABLE.md is its
 * specification. Pure: the memory is the caller's, nothing is allocated. O(1) a load and turn.
 *
 * One turn: observe_begin; observe_load for each load; where observe_is_undisturbed still
 * holds, observe_foreign for each load and observe_background. As a load is ordered on or off:
 * observe_ordered. */
#ifndef SLUICE_OBSERVE_OBSERVE_H
#define SLUICE_OBSERVE_OBSERVE_H

#include "terms/experiment.h"
#include "terms/load_state.h"
#include "terms/reading.h"

enum {
    OBSERVE_SHOW_MS = 10 * MS_PER_S,     /* SHOW: the meter has had time to show a switching */
    OBSERVE_SETTLE_MS = 2 * MS_PER_MIN,  /* SATISFIED_SETTLE: without draw for so long, it rests */
    OBSERVE_TRIAL_MS = 48 * MS_PER_HOUR, /* TRIAL_COUNTS: for so long an opening explains that
                                            nothing is drawn */
    OBSERVE_HEATED_VAGUE_MS = 10 * MS_PER_MIN, /* longer than a kettle, or a hob's spells */
    OBSERVE_EXPERIMENTS_MAX = 16,              /* that one turn tells */
    LOOKS = 3,
};

enum draw_state {
    DRAW_NONE,    /* not on */
    DRAW_WAITING, /* on, and the meter has not yet had time to show it */
    DRAW_SEEN,    /* the meter shows it */
    DRAW_OPEN,    /* on, and the meter shows no draw */
    DRAW_ASSUMED, /* on, and nothing shows whether it draws: counted as its power, unproven */
    DRAW_STUCK,   /* off, and the meter did not fall: possible contact that stays closed */
};

/* What the last order to switch off did to the meter. */
enum stop_seen {
    STOP_NONE,    /* nothing to look for */
    STOP_PENDING, /* the meter has not had time to show it */
    STOP_FELL,    /* the meter fell: it had been drawing */
    STOP_FLAT,    /* the meter stayed where it was */
    STOP_UNSEEN,  /* nothing can be said: no meter, or something else changed with it */
};

struct draw_view {
    enum draw_state state;
    int32_t draw_w;  /* SEEN and STUCK: what it takes; ASSUMED: what it is counted as; else 0 */
    int32_t power_w; /* what it takes when it draws: measured, else nameplate */
    bool power_measured;
    bool has_opened; /* the thermostat has opened after heating, at opened_at, proven */
    struct moment opened_at;
    bool unsure;       /* that opening was the first seen: a breaker that tripped looks the same */
    bool supposed;     /* it seems to have opened: switching will prove it */
    bool unexplained;  /* it draws nothing when switched on, and it is not known why */
    bool off_shown;    /* off: something has shown that it draws nothing */
    bool vague;        /* SEEN: by a step that may be another appliance's; no proof of its heat */
    struct mono since; /* when this state began */
};

/* What an order is watched for, beside the level (before_w): told once, then no longer pending. */
struct ordered {
    bool pending;
    bool drew, thought_open; /* before it */
    bool has_phases;
    uint8_t kind; /* enum experiment_kind */
    int32_t expected_w, draw_w;
    int32_t phase_w[PHASES];
    int64_t look_ms; /* the last look before it */
};

/* Of one load. */
struct draw_memory {
    struct draw_view view;
    bool satisfied;        /* it has drawn nothing for long enough: it rests */
    struct mono retry_at;  /* satisfied: tried again from then on */
    int32_t look_w[LOOKS]; /* what the house took on its phases, newest first */
    uint8_t looks;         /* how many of these are known */
    bool has_level, has_had, has_before;
    int32_t level_w, had_w; /* by the last look, and by the one before it */
    int32_t before_w;       /* the level before it was switched */
    int32_t shut_w;         /* OPEN after drawing: the level while it drew */
    bool mixed;             /* another load was switching too, or had just before */
    bool opened_in_run;
    bool run_shown;          /* SEEN, and not vague, since it was ordered on */
    bool unasked;            /* the state was entered without an order */
    int32_t start_w;         /* the step of its last start; 0: none, or mixed */
    bool supposed_vague;     /* what is supposed opened after a vague draw */
    struct mono alike_until; /* the house shows steps of its size that are not its own */
    bool was_seen;           /* it was seen drawing until looks ended */
    int32_t seen_w;          /* the last level while it is on */
    uint8_t stop;            /* enum stop_seen */
    uint8_t stop_from;       /* enum draw_state when it was ordered off */
    int32_t stop_draw_w;     /* what it drew then */
    bool untold;             /* an opening is supposed, and was neither told nor refuted yet */
    bool doubted;            /* it shows as drawing more than its store can have taken */
    bool asked;              /* switched on, and not yet seen whether it draws */
    struct moment supposed_at;
    int64_t heated_mj;  /* drawn since the last proven opening, as far as anything tells */
    int64_t guessed_mj; /* of it, what nothing showed */
    int32_t needs_w;    /* what it took on average from one proven opening to the next */
    struct ordered ordered;
};

/* Of the site: its last looks, newest first. */
struct observe_memory {
    struct mono look_from[LOOKS]; /* the earliest moments of what they were made of */
    struct mono looked_at;        /* the latest moment of the last one */
    uint8_t count;
    uint8_t phase_count; /* as many of them, from the newest on, with the power of each phase */
    struct mono at[LOOKS + 1];
    struct mono unasked_at; /* a load was last seen to change its draw without an order */
    int32_t power_w[LOOKS + 1];
    int32_t phase_w[LOOKS + 1][PHASES];
    uint32_t sequence; /* of the last experiment told */
};

/* ---- what is given ----------------------------------------------------------- */

struct observe_site {
    const struct reading *reading;
    struct moment now;
    uint8_t phase_count;
    bool solar, battery; /* these meters are set up */
    bool throttled;      /* as of the last turn */
    int switching_count; /* loads of which observe_is_switching */
    int64_t moved_ms; /* when any load's state or level last changed (what follows: has followed) */
};

struct observe_given {
    uint16_t load;
    uint8_t state;      /* enum load_state, since `since` */
    uint8_t phases;     /* bit 0 is L1 */
    bool shows_step;    /* its supply is switched by one contactor: its step has a known moment */
    bool obeys;         /* its supply is not switched: it follows in its own time */
    bool learns_w;      /* what its own meter shows replaces the nameplate */
    bool thermostat;    /* it may stop drawing by itself */
    bool relief;        /* switched off, and the meter has not shown it yet */
    uint8_t held;       /* enum load_held: what goes before its output */
    bool probing;       /* it runs to find out what a throttled inverter holds back */
    int32_t plate_w;    /* nameplate */
    int32_t start_w;    /* what a start is expected to add */
    int32_t expected_w; /* what it is expected to draw as it is set now */
    int32_t retry_ms;
    int32_t loss_w;   /* standing loss of its store; 0: not known */
    int64_t whole_mj; /* surely enough from cold; 0: not known; only before it ever opened */
    struct mono since;
    const struct load_reading *own; /* fresh power of its own meter, or NULL */
};

/* ---- what comes back ----------------------------------------------------------- */

/* What a store may take from it. */
enum heard {
    HEARD_NOTHING,
    HEARD_FULL,    /* its thermostat has opened after heating */
    HEARD_DRAWS,   /* switched on, or off, it was found drawing */
    HEARD_NO_DRAW, /* switched on, it was found drawing nothing */
};

struct observe_news {
    enum heard heard;
    bool opened;        /* the thermostat opened after heating, proven */
    bool no_draw;       /* it draws nothing when on, and it is not known why */
    bool stuck;         /* off, and the meter did not fall */
    bool power_differs; /* what was measured is first off the nameplate by more than 12 % */
};

struct observed {
    uint8_t experiment_count;
    struct experiment experiment[OBSERVE_EXPERIMENTS_MAX];
    struct background background; /* of the look of this turn */
};

/* A turn under way; the caller's, on its stack. */
struct observing {
    struct observe_site site;
    struct observe_memory *memory;
    struct observed *observed;
    int64_t t, until; /* until: the earliest moment at which something is seen differently */
    bool seeing;      /* all that tells what the house takes is fresh */
    bool look;        /* and has been read anew */
    bool undisturbed; /* and no load had moved when the look before was taken */
    /* of the load that is looked at */
    const struct observe_given *given;
    struct draw_memory *draw;
    struct observe_news news;
};

/* Something of its switching is still under way, or for the meter to show. */
bool observe_is_switching(enum load_state state, bool relief, const struct draw_memory *draw);

void observe_begin(struct observing *observing, const struct observe_site *site,
                   struct observe_memory *memory, struct observed *observed);
struct observe_news observe_load(struct observing *observing, const struct observe_given *given,
                                 struct draw_memory *draw);
/* No load is switching, and what any did was shown by the look before. */
bool observe_is_undisturbed(const struct observing *observing);
void observe_foreign(struct observing *observing, const struct observe_given *given,
                     struct draw_memory *draw);
void observe_background(struct observing *observing);

/* The load has been ordered on, or off. `others_moved_ms`: the last moment at which the contact
 * of another load moved, the present one where one may be moving still. */
void observe_ordered(struct observing *observing, const struct observe_given *given,
                     struct draw_memory *draw, bool on, int64_t others_moved_ms);

/* The load's level shows what happened at `since`. */
bool observe_shows_since(const struct observing *observing, const struct draw_memory *draw,
                         int64_t since);
/* More was counted as drawn than its store can have taken, by all but its own meter: an opening
 * may have gone unseen, as another appliance came on in that moment. Switching off will tell. */
void observe_doubt(struct draw_memory *draw);
/* What it counts as drawing is shown by nothing, or by what may be another appliance's. */
bool observe_is_guess(const struct draw_view *view);
/* What was supposed or doubted until now is no news. */
void observe_hush(struct draw_memory *draw);
/* What was seen before says nothing of what comes after. */
void observe_forget(struct draw_memory *draw);

#endif
