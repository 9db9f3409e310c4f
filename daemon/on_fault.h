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

struct on_fault {
    struct told_fault told[SITE_TROUBLES_MAX];
    int told_count;
    pid_t pid;        /* of the one that runs; 0: none */
    int64_t begun_us; /* the machine's own time */
    struct mono due;  /* not before */
};

/* What stands already is no news. */
void on_fault_begin(struct on_fault *on_fault, const struct common *common);
/* Never waits: looks after the one that runs, or begins the next. */
void on_fault_turn(struct on_fault *on_fault, struct common *common);
void on_fault_end(struct on_fault *on_fault);

#endif
