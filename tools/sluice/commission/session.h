/* session.h - one run through the steps: the house, what answers, who is there, what is done. */
#ifndef SLUICE_TOOLS_SESSION_H
#define SLUICE_TOOLS_SESSION_H

#include <cjson/cJSON.h>

#include "ask.h"
#include "progress.h"
#include "settings/settings.h"

struct session {
    const char *socket;
    struct asking asking;
    const struct settings *settings;
    struct progress progress;
    cJSON *status;                     /* the last one */
    bool declined[SETTINGS_LOADS_MAX]; /* whoever is there would not have it switched */
    bool stopped;                      /* the step at hand is not done, and none after it */
    char why[CAUTION_MAX];             /* it was stopped */
};

/* Ends the run after the step at hand. */
void session_stop(struct session *session, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* The status anew. False: sluiced does not answer, and the run is stopped. */
bool session_look(struct session *session);
/* The same after a moment: for what has to change. */
bool session_wait(struct session *session);
int64_t session_uptime_s(const struct session *session);

/* How long a step waits for something: so many seconds of the daemon's, which may run faster or
 * slower than this machine's, and so many looks, where they stand still. */
struct patience {
    int64_t since_s;
    int looks, seconds;
};
struct patience session_patience(const struct session *session, int seconds);
/* Waits a moment and looks; false: it has waited long enough, or the run is stopped. */
bool session_wait_on(struct session *session, struct patience *patience);

const cJSON *session_load(const struct session *session, const char *name);

/* A question of yes or no; where the answer is to end, the run is stopped. */
enum answer session_ask(struct session *session, enum answer usual, const char *question);

#endif
