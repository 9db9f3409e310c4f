/* clock.h - the door through which time comes in.
 *
 * The system's clock, or a simulator's that grants one moment after another
 * over a Unix socket and waits until the turn is done. Line protocol, the
 * simulator listens and the daemon connects:
 *
 *   simulator -> daemon   "grant MONO_MS WALL_MS TRUSTED\n"   (TRUSTED 0 or 1)
 *   daemon -> simulator   "done\n"  after the turn's polls, decisions and writes
 *
 * End of file from the simulator ends the daemon in good order. */
#ifndef SLUICE_LOOP_CLOCK_H
#define SLUICE_LOOP_CLOCK_H

#include "core/moment.h"
#include "core/trouble.h"

struct clock;

struct clock *clock_system(struct trouble *trouble);
struct clock *clock_granted(const char *socket_path, struct trouble *trouble); /* connects */
void clock_free(struct clock *clock);

bool clock_is_granted(const struct clock *clock);

/* Readable when a moment has come: the system clock's timer, or the socket. */
int clock_fd(const struct clock *clock);

/* System clock: wakes at `at` at the latest. Granted: does nothing. */
void clock_wake_at(struct clock *clock, struct mono at);

/* To be called once a turn, when clock_fd is readable or another thing woke the
 * loop. Granted: takes the next grant if there is one (true), else the last
 * moment stands (false). System: always true. False with *ended: the simulator
 * has gone. */
bool clock_take(struct clock *clock, struct moment *now, bool *ended);

/* Granted: answers "done". System: nothing. */
void clock_done(struct clock *clock);

/* The machine's own time, CLOCK_MONOTONIC, also where moments are granted: wires, and clients
 * behind them, know no other. */
int64_t clock_monotonic_us(void);

#endif
