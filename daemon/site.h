/* site.h - one running daemon: its parts, each with the header that is its door. One thread, the
 * loop's, owns them all; the edges' own threads see only their mailboxes.
 *
 * A function takes the parts that it needs, so that its parameters say what it can touch. The site
 * itself is taken by main, start, the loop and reload, which join the parts; and, to read only,
 * by status, which gathers the view that is published. */
#ifndef SLUICE_DAEMON_SITE_H
#define SLUICE_DAEMON_SITE_H

#include "accepted.h"
#include "board.h"
#include "control.h"
#include "engine.h"
#include "faults.h"
#include "gateway.h"
#include "inputs.h"
#include "lamp.h"
#include "lines.h"
#include "loop/clock.h"
#include "on_fault.h"
#include "publish.h"
#include "reload.h"
#include "remember.h"
#include "switching.h"
#include "thermometers.h"

struct site {
    struct common common;
    struct files files;

    struct lines lines;
    struct inputs inputs;
    struct board board;
    struct thermometers thermometers;
    struct engine engine;
    struct faults faults;
    struct on_fault on_fault;
    struct switching switching;
    struct lamp lamp;
    struct kept kept;

    struct broker broker;
    struct serving serving;
    struct control_socket socket;

    struct clock *clock;
    struct closing closing;
    bool stopping;
};

#endif
