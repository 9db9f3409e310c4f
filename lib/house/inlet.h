/* inlet.h - how cold the mains water is, by season.
 *
 * A cosine about the year's mean, coldest some weeks after midwinter: the shape of
 * the mains-water formula of Burch and Christensen, "Towards development of an
 * algorithm for mains water temperature", ASES 2007 (from memory), here with its
 * mean, swing and coldest day told instead of derived from the air's. */
#ifndef SLUICE_HOUSE_INLET_H
#define SLUICE_HOUSE_INLET_H

struct inlet {
    double mean_c, swing_k; /* swing 0: the same all year */
    int coldest_day;        /* of the year, 1 is 1 January */
};

/* day: 1..366 of the year. */
double inlet_c(const struct inlet *inlet, int day);

#endif
