/* proof.h - section 5: what it means that nothing is drawn. */
#ifndef SLUICE_RULES_PROOF_H
#define SLUICE_RULES_PROOF_H

#include "turn.h"

/* It is not known why. */
void proof_none(struct turn *turn, uint16_t index);
/* The meter has shown what the order to switch off did. */
void proof_stop(struct turn *turn, uint16_t index);
/* Each turn, after its draw is known. */
void proof_watch(struct turn *turn, uint16_t index);

#endif
