/* accepted.h - the last accepted settings, kept in the state directory for the next start.
 *
 * A power cut comes when it likes, also while somebody edits; and a restart with a refused
 * file must still heat water. The file and the maps it needs are written together by a
 * thread of their own, since a flush takes a disk's time. */
#ifndef SLUICE_DAEMON_ACCEPTED_H
#define SLUICE_DAEMON_ACCEPTED_H

#include <pthread.h>
#include <stdatomic.h>

#include "common.h"

enum { STATE_DIR_MAX = 192 };

/* The last accepted settings, on the disk. */
struct accepted_state {
    bool in_force;  /* they are, and not the file at hand */
    struct wall at; /* accepted then; 0: not known */
    pthread_t thread;
    bool running;     /* the thread has not been waited for */
    bool again;       /* what is in force has changed since it began */
    atomic_bool done; /* set by the thread at its end, after */
    int error;        /* 0, or what errno said */
};

/* Where settings come from, and where the accepted ones are kept. */
struct files {
    char settings_path[256];
    char maps_dir[256];
    char state_dir[STATE_DIR_MAX]; /* "": no settings are kept */
    struct accepted_state accepted;
};

/* NULL: there are none in that directory, or they are refused, as `troubles` says then.
 * `at` becomes the moment at which they were accepted; 0: no clock could tell. */
struct settings *accepted_load(const char *state_dir, struct settings_troubles *troubles,
                               struct wall *at);

/* Begins to keep the settings in force; where they are kept already, nothing is written. */
void accepted_keep(struct files *files, struct common *common);

/* Takes what came of it, and begins again where the settings have changed meanwhile. */
void accepted_turn(struct files *files, struct common *common);

/* Until all is written: at the end. */
void accepted_wait(struct files *files, struct common *common);

#endif
