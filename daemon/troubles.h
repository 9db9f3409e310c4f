/* troubles.h - what is wrong now, said once. */
#ifndef SLUICE_DAEMON_TROUBLES_H
#define SLUICE_DAEMON_TROUBLES_H

#include "common.h"

/* "KIND-NAME", for what is wrong with one thing among others of its kind. Never cut: two
 * names are two ids. `kind` has at most SITE_TROUBLE_KIND_MAX letters. */
void site_trouble_id(char id[static MQTT_ID_MAX], const char *kind, const char *name);

void site_trouble(struct common *common, const char *id, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void site_solved(struct common *common, const char *id);
/* It may last, but what it is about has gone from the settings, or begins anew. */
void site_unwatched(struct common *common, const char *id);
/* Solved, with a line of its own in the log instead of "solved". */
void site_solved_saying(struct common *common, const char *id, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
bool site_has_trouble(struct common *common, const char *id);
/* Raises the alert of the k-th trouble, for a broker that is new. */
void site_trouble_again(struct common *common, int k);

/* What is wrong with the broker; the only one that it is not told itself. */
#define SITE_TROUBLE_BROKER "mqtt"

/* A line for the log and the ledger. */
void site_note(struct common *common, const char *subject, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
