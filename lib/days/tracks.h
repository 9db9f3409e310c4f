/* tracks.h - channels made into one row of W (or litres a step) for a role. */
#ifndef SLUICE_DAYS_TRACKS_H
#define SLUICE_DAYS_TRACKS_H

#include "days/channels.h"

struct days_track {
    float *value; /* [count], the track's own; NULL: nothing stands for the role */
    size_t count;
    struct wall first;
    int32_t step_s;
    bool litres; /* summed where steps become coarser, not averaged */
    const struct days_channel *from[DAYS_CHANNELS_MAX]; /* whose places they are */
    int from_count;
};

/* Takes the channel's values, times `factor`. */
void days_track_take(struct days_track *track, struct days_channel *channel, double factor);

/* Steps of `step_s`, a multiple of the track's; a last part of a step is left out, and one
 * of which a part is missing is missing. */
void days_track_coarsen(struct days_track *track, int32_t step_s);

/* Adds the other, which is freed: the sum where both are, or (`pieces`) one after the
 * other. Both have equal steps. False: no memory, or steps out of line; or pieces that both
 * have a value for one time: then `twice` is that one. */
enum days_joined { DAYS_JOINED, DAYS_JOIN_MEMORY, DAYS_JOIN_GRID, DAYS_JOIN_TWICE };
enum days_joined days_track_join(struct days_track *track, struct days_track *other, bool pieces,
                                 struct wall *twice);

/* Only what is from `first` on, `count` steps, all of which are there. */
void days_track_trim(struct days_track *track, struct wall first, size_t count);

/* Line 0: nowhere. */
struct days_place days_track_place(const struct days_track *track, struct wall at);

struct wall days_track_end(const struct days_track *track);
void days_track_free(struct days_track *track);

#endif
