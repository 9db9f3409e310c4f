/* troubles.h - what is wrong now, said once: what is known, and what is inferred. */
#ifndef SLUICE_DAEMON_TROUBLES_H
#define SLUICE_DAEMON_TROUBLES_H

#include "common.h"

/* "KIND-NAME", for what is wrong with one thing among others of its kind. Never cut: two
 * names are two ids. `kind` has at most SITE_TROUBLE_KIND_MAX letters. */
void site_trouble_id(char id[static MQTT_ID_MAX], const char *kind, const char *name);

void site_trouble(struct common *common, const char *id, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* The same of one load: its id is "KIND-NAME". */
void site_trouble_of_load(struct common *common, uint16_t load, const char *kind,
                          const char *format, ...) __attribute__((format(printf, 4, 5)));
void site_solved(struct common *common, const char *id);
/* It may last, but what it is about has gone from the settings, or begins anew. */
void site_unwatched(struct common *common, const char *id);
/* Solved, with a line of its own in the log instead of "solved". */
void site_solved_saying(struct common *common, const char *id, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
bool site_has_trouble(const struct common *common, const char *id);
bool site_has_finding(const struct common *common, uint16_t load, enum finding_kind kind);
/* Raises the alert of the k-th trouble, for a broker that is new. */
void site_trouble_again(struct common *common, int k);

/* What is inferred, each turn anew: between begin and end all is given, with its standing; what
 * is not has been ended by the evidence, or by new settings. What cannot be judged stays as it was
 * told. Its numbers change all the time; it is news when it appears, grows surer or less
 * sure, or has been seen twice as often. */
void site_findings_begin(struct common *common);
void site_finding(struct common *common, const struct fault *fault);
/* One that stood when this daemon began: it is no news. */
void site_finding_stood(struct common *common, const struct fault *fault);
void site_findings_end(struct common *common, bool settings_changed);

/* At a reload: the loads have been numbered anew; what was of one that is gone ends. */
void site_troubles_renumber(struct common *common, const struct settings *before,
                            const struct settings *after);

/* What is wrong with the broker; the only one that it is not told itself. */
#define SITE_TROUBLE_BROKER "mqtt"

/* A line for the log and the ledger. */
void site_note(struct common *common, const char *subject, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* In the ledger: what stood before this and does not come again is over. */
#define SITE_FAULTS_SUBJECT "faults"

#endif
