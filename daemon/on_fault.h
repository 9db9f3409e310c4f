/* on_fault.h - the command of the settings that runs when a fault appears, changes or ends. */
#ifndef SLUICE_DAEMON_ON_FAULT_H
#define SLUICE_DAEMON_ON_FAULT_H

#include <sys/types.h>

#include "common.h"

/* A fault as the command was last told of it. */
struct told_fault {
    struct fault fault;
    uint32_t news;
};

enum on_fault_state {
    ON_FAULT_IDLE,
    ON_FAULT_RUNS,
    ON_FAULT_ENDED,  /* and judged; what it left in the background still has time */
    ON_FAULT_KILLED, /* and judged; not reaped yet */
};

struct on_fault {
    struct told_fault told[SITE_TROUBLES_MAX];
    int told_count;
    /* What is told once the command that runs has ended well. */
    struct told_fault telling[SITE_TROUBLES_MAX];
    int telling_count;
    enum on_fault_state state;
    pid_t pid;        /* of the shell, and of all that it started, until it is reaped */
    int64_t begun_us; /* the machine's own time */
    struct mono due;  /* not before */
    int64_t pause_ms; /* after the next failure */
};

/* With what the ledger holds: what the command was told and stands still is no news. */
void on_fault_begin(struct on_fault *on_fault, struct common *common);
/* Into the snapshot under way. */
void on_fault_save(const struct on_fault *on_fault, struct common *common);
/* Never waits: looks after the one that runs, or begins the next. True: something has been told,
 * which is to be saved. */
bool on_fault_turn(struct on_fault *on_fault, struct common *common);
void on_fault_end(struct on_fault *on_fault);

#endif
