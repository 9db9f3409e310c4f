/* load_state.h - how far an order to a load has come, by what its output confirmed. */
#ifndef SLUICE_TERMS_LOAD_STATE_H
#define SLUICE_TERMS_LOAD_STATE_H

enum load_state { STATE_OFF, STATE_STARTING, STATE_ON, STATE_STOPPING };

#endif
