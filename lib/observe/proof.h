/* proof.h - section 5: what it means that nothing is drawn. */
#ifndef SLUICE_OBSERVE_PROOF_H
#define SLUICE_OBSERVE_PROOF_H

#include "observe/inside.h"

/* It is not known why. */
void proof_none(struct observing *o);
/* The meter has shown what the order to switch off did. */
void proof_stop(struct observing *o, bool own);
/* Each turn, after its draw is known. */
void proof_watch(struct observing *o);

#endif
