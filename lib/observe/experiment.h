/* experiment.h - section 5: what each switching showed, for statistics. */
#ifndef SLUICE_OBSERVE_EXPERIMENT_H
#define SLUICE_OBSERVE_EXPERIMENT_H

#include "observe/inside.h"

/* The load has been ordered on (off), after mark_level and before its draw is entered anew. */
void experiment_begin(struct observing *o, enum experiment_kind kind);
/* What that order did is told: by the level (`hidden`: the inverter may have made up for it), by
 * nothing, or by its own meter. */
void experiment_by_level(struct observing *o, bool shows, bool hidden, bool alike);
void experiment_unseen(struct observing *o);
void experiment_by_own_meter(struct observing *o, int32_t power_w);
/* Its draw changed without an order. */
void experiment_unasked(struct observing *o, enum experiment_kind kind);
/* The same, by its own meter. */
void experiment_unasked_metered(struct observing *o, enum experiment_kind kind, int32_t power_w);
/* After a look at which no load of ours had moved. */
void experiment_background(struct observing *o);

#endif
