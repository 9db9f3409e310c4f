/* grant.h - the clock that this house gives to a daemon, one moment at a time.
 *
 * The protocol is that of lib/loop/clock.h: "grant MONO_MS WALL_MS TRUSTED\n"
 * goes out, "done\n" comes back. */
#ifndef SIMHOUSE_GRANT_H
#define SIMHOUSE_GRANT_H

#include "core/moment.h"

struct grant;

enum grant_news { GRANT_NOTHING, GRANT_DONE, GRANT_GONE };

struct grant *grant_new(const char *path); /* listens; NULL with errno */
void grant_free(struct grant *grant);

int grant_fd(const struct grant *grant); /* the daemon's, or the listener's while there is none */
bool grant_connected(const struct grant *grant);

/* To be called while there is no daemon and grant_fd is readable. */
void grant_accept(struct grant *grant);

bool grant_send(struct grant *grant, struct moment moment); /* false: the daemon has gone */
enum grant_news grant_hear(struct grant *grant);

/* No more moments: the daemon ends in good order, and may still switch. */
void grant_close(struct grant *grant);

#endif
