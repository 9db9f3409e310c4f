/* tap.h - hot water as people draw it.
 *
 * A draw begins at a second of the day and goes on until its energy or its time
 * is used up. The tap mixes with cold water to the wanted temperature; where the
 * tank is colder than wanted, all the flow is hot water and the shower spoilt.
 *
 * The built-in profiles are M and L of EU regulation 812/2013, Annex VII table 3
 * (equal to 814/2013 Annex III table 1): 23 draws of 5.845 kWh and 24 of 11.655 kWh
 * above cold water at 10 C; times and energies from memory, they add up to the
 * regulation's own totals.
 * A household's own draws may be random instead: basins, kitchen, showers, now and then a
 * bath, most of them in the morning and the evening, each day other ones (invented; no
 * source).
 * Below 38 C a shower counts as spoilt, and below 42 C water is cool for whoever wanted it
 * hotter: common practice, no source. */
#ifndef SLUICE_HOUSE_TAP_H
#define SLUICE_HOUSE_TAP_H

#include <stdbool.h>
#include <stdint.h>

#include "house/prng.h"
#include "house/tank.h"

enum { TAP_DRAWS_MAX = 48 };

#define TAP_SPOILT_C 38.0
#define TAP_COOL_C 42.0

struct tap_draw {
    int32_t at_s;      /* second of the local day */
    double flow_l_min; /* at the tap, mixed */
    double wanted_c;
    double energy_kwh; /* ends when so much has been drawn; 0: by time */
    double seconds;    /* ends after so long; 0: by energy */
};

struct tap {
    struct tap_draw draw[TAP_DRAWS_MAX];
    double left[TAP_DRAWS_MAX]; /* J or s still to come; 0: not running */
    int count, running;         /* of the draws */
    int32_t last_s, next_s;     /* looked for them; none begins before that */
    struct prng prng;
    double litres_a_day; /* random draws of so much at the tap, mixed; 0: `draw` as it is */
    double mixed_c;      /* at the tap in the last step; 0 while nothing is drawn */
    double drawn_j;      /* above the inlet's temperature */
    double spoilt_s;     /* seconds of draws that wanted more and got less than 38 C */
};

#define TAP_PROFILE_COLD_C 10.0

/* Profiles M and L, in order of time. */
extern const struct tap_draw tap_profile_m[], tap_profile_l[];
extern const int tap_profile_m_count, tap_profile_l_count;

/* `now_s` is the second of the day from which draws are looked for. */
void tap_init(struct tap *tap, const struct tap_draw draws[], int count, int32_t now_s);

/* Random draws, other ones each day, of litres_a_day on average. */
void tap_init_random(struct tap *tap, double litres_a_day, uint64_t seed, int32_t now_s);

/* Litres of hot water at hot_c that leave the tank in the step that begins at
 * second now_s of the day. */
double tap_step_l(struct tap *tap, int32_t now_s, double dt_s, double hot_c, double inlet_c);

/* The other way to tell a draw: so many litres at the tap within a step. */
struct tap_flow {
    double litres, wanted_c, inlet_c;
};

struct tap_taken {
    double heat_j;    /* out of the tank, above the inlet's temperature */
    double lack_j;    /* what the water at the tap was short of wanted_c */
    double cool_j;    /* of heat_j, what came below TAP_COOL_C where more was wanted */
    double coldest_c; /* at the tap; wanted_c where nothing was drawn */
};

/* Mixes as above, layer by layer as the tank runs empty. */
struct tap_taken tap_take(struct tank *tank, const struct tap_flow *flow);

#endif
