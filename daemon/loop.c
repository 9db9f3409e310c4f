/* loop.c - one thread, level-triggered epoll, one moment a turn.
 *
 * Whatever wakes the loop, the same things happen in the same order: the time is
 * taken once, answers and orders are gathered, what is due is asked, the engine
 * takes its turn, and what it decided goes out. Nothing in it waits.
 *
 * With a granted clock a turn is taken only when every job of that moment has been
 * answered, and the moment is given back when the turn has started no new one: a
 * simulated day is the same each time, whatever the threads do. */
#include "loop.h"

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/signalfd.h>
#include <systemd/sd-daemon.h>
#include <unistd.h>

#include "accepted.h"
#include "board.h"
#include "control.h"
#include "engine.h"
#include "gateway.h"
#include "lamp.h"
#include "lines.h"
#include "loop/log.h"
#include "publish.h"
#include "reload.h"
#include "remember.h"
#include "site.h"
#include "status.h"
#include "thermometers.h"

enum { EVENTS_MAX = 16, LONGEST_SLEEP_MS = 1000, STUCK_MS = 2 * MS_PER_MIN };

struct loop {
    struct site *site;
    int epoll_fd, signal_fd;
    bool granted_open;   /* a moment is granted and not yet given back */
    int64_t watchdog_us; /* 0: nobody watches */
    struct mono patted;
};

static void watch(const struct loop *loop, int fd)
{
    struct epoll_event event = {.events = EPOLLIN, .data.fd = fd};
    if (fd >= 0)
        epoll_ctl(loop->epoll_fd, EPOLL_CTL_ADD, fd, &event);
}

static int open_signals(void)
{
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGHUP);
    return signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
}

/* ---- what has come in --------------------------------------------------------------- */

static void take_answer(struct site *site, struct bus_answer *answer)
{
    bool of_now = job_take(&site->lines, answer);
    if (answer->id >= JOB_LAMP && of_now)
        lamp_answer(&site->lamp, answer);
    else if (answer->id >= JOB_INPUTS && of_now)
        board_answer(&site->board, answer);
    else if (answer->id >= JOB_OUTPUTS && answer->id < JOB_INPUTS)
        switching_answer(&site->switching, answer, of_now);
    else if (of_now && answer->id < JOB_OUTPUTS)
        meter_answer(&site->inputs, &site->serving, &site->common, answer);
}

static void take_answers(struct site *site)
{
    struct bus_answer answer;
    thermometers_take(&site->thermometers, site->common.now.mono);
    while (mailbox_take(site->lines.answers, &answer))
        take_answer(site, &answer);
}

static struct ordering ordering_of(struct site *site)
{
    return (struct ordering){.engine = &site->engine,
                             .common = &site->common,
                             .inputs = &site->inputs,
                             .outputs = site->switching.outputs};
}

static char *status_asked(void *context)
{
    return status_text(context);
}

static char *meter_asked(void *context, const char *name)
{
    const struct site *site = context;
    return status_meter_text(&site->inputs, &site->common, name);
}

static bool reload_asked(void *context, bool even_if_cut, struct text *answer)
{
    return site_reload(context, even_if_cut, answer);
}

/* Saved at once: the board may go dark with the meter. */
static bool await_asked(void *context, const char *name, const char *what, const char *by,
                        struct text *answer)
{
    struct site *site = context;
    bool was_awaited = site->inputs.grid.awaited;
    bool obeyed = grid_await(&site->inputs, &site->common, name, what, by, answer);
    site->kept.now_due |= site->inputs.grid.awaited != was_awaited;
    return obeyed;
}

static void serve(struct site *site, int fd)
{
    const struct control_doors doors = {.ordering = ordering_of(site),
                                        .context = site,
                                        .status = status_asked,
                                        .meter = meter_asked,
                                        .await_meter = await_asked,
                                        .reload = reload_asked};
    control_serve(&site->socket, fd, &doors);
}

static void reload_on_signal(struct site *site)
{
    char buffer[TROUBLE_TEXT_MAX];
    struct text answer = text_in(buffer, sizeof(buffer));
    sd_notifyf(0, "RELOADING=1\nMONOTONIC_USEC=%lld", (long long)site->common.now.mono.ms * 1000);
    site_reload(site, false, &answer);
    sd_notify(0, "READY=1");
}

static void take_signals(struct loop *loop)
{
    struct signalfd_siginfo info;
    while (read(loop->signal_fd, &info, sizeof(info)) == sizeof(info)) {
        if (info.ssi_signo == SIGHUP)
            reload_on_signal(loop->site);
        else
            loop->site->stopping = true;
    }
}

/* ---- the watchdog -------------------------------------------------------------------- */

static void pat_watchdog(struct loop *loop)
{
    struct site *site = loop->site;
    bool well = lines_all_move(&site->lines, &site->common) &&
                gateway_still_ms(&site->serving, site->common.now.mono) < STUCK_MS;
    if (loop->watchdog_us == 0 || !well ||
        mono_since_ms(site->common.now.mono, loop->patted) * 1000 < loop->watchdog_us / 3)
        return;
    loop->patted = site->common.now.mono;
    sd_notify(0, "WATCHDOG=1");
}

/* ---- turns ------------------------------------------------------------------------------ */

/* What has gone by since the last turn, as it was decided then. */
static void book(struct site *site)
{
    int64_t dt_ms = engine_since_turn_ms(&site->engine, site->common.now.mono);
    grid_book(&site->inputs, dt_ms);
    remember_book(&site->kept, &site->engine, &site->inputs, &site->common, dt_ms);
}

static void take_orders(struct site *site)
{
    struct ordering ordering = ordering_of(site);
    struct values_view view = status_view(site);
    publish_take(&site->broker, &ordering, site->switching.outputs, &site->thermometers, &view);
    board_obey(&site->board, &ordering);
}

static void publish(struct site *site)
{
    struct values_view view = status_view(site);
    publish_turn(&site->broker, &site->common, &view);
}

static void turn(struct site *site)
{
    take_orders(site);
    book(site);
    sources_settle(&site->inputs, &site->common);
    grid_look(&site->inputs, &site->common);
    thermometers_settle(&site->thermometers, &site->inputs, &site->common);
    board_settle(&site->board, &site->inputs, &site->common);
    site->kept.now_due |=
        engine_turn(&site->engine, &site->inputs, site->switching.outputs, &site->common);
    faults_turn(&site->faults, &site->engine, &site->inputs, &site->common);
    switching_turn(&site->switching, site->common.now.mono);
    lines_look(&site->lines, &site->common);
    thermometers_look(&site->thermometers, &site->common);
    board_look(&site->board, &site->common);
    lamp_turn(&site->lamp, &site->engine, &site->common);
    publish(site);
    remember_turn(&site->kept, &site->engine, &site->faults, &site->on_fault, &site->inputs,
                  &site->common);
    gateway_turn(&site->serving, &site->common);
    accepted_turn(&site->files, &site->common);
    site->kept.now_due |= on_fault_turn(&site->on_fault, &site->common);
}

/* Something was asked of a device, and has not been answered. */
static bool waits(const struct site *site)
{
    return site->lines.under_way > 0 || thermometers_wait(&site->thermometers);
}

static void turn_granted(struct loop *loop)
{
    struct site *site = loop->site;
    if (!loop->granted_open || waits(site))
        return;
    do
        turn(site);
    while (site->switching.news && !waits(site));
    if (waits(site))
        return;
    loop->granted_open = false;
    ledger_wait(site->common.ledger); /* or a disk's real milliseconds become simulated minutes */
    clock_done(site->clock);
}

static void take_time(struct loop *loop)
{
    struct site *site = loop->site;
    bool ended = false;
    bool has_come = clock_take(site->clock, &site->common.now, &ended);
    site->common.now.wall_trusted |=
        site->engine.memory.trusted; /* a clock once set stays good for days */
    site->stopping |= ended;
    take_answers(site);
    if (!has_come || ended)
        return;
    meters_ask(&site->inputs, &site->lines, &site->common);
    board_ask(&site->board, site->common.now.mono);
    thermometers_ask(&site->thermometers, site->common.now.mono);
    loop->granted_open = clock_is_granted(site->clock);
}

static void take_turn(struct loop *loop)
{
    struct site *site = loop->site;
    if (clock_is_granted(site->clock)) {
        turn_granted(loop);
        return;
    }
    turn(site);
    pat_watchdog(loop);
    int64_t sleep_ms = site->switching.news ? 1 : LONGEST_SLEEP_MS;
    struct mono next = mono_after(site->common.now.mono, sleep_ms);
    next = mono_earlier(next, meters_next(&site->inputs, &site->common));
    next = mono_earlier(next, board_next(&site->board));
    next = mono_earlier(next, thermometers_next(&site->thermometers));
    clock_wake_at(site->clock, mono_earlier(next, site->engine.outcome.holds_until));
}

static void dispatch(struct loop *loop, int fd)
{
    struct site *site = loop->site;
    if (fd == loop->signal_fd)
        take_signals(loop);
    else if (fd == site->socket.fd)
        watch(loop, control_accept(&site->socket));
    else if (fd != clock_fd(site->clock) && fd != mailbox_fd(site->lines.answers) &&
             fd != mailbox_fd(site->broker.inbox) && fd != mailbox_fd(site->thermometers.answers))
        serve(site, fd);
}

static bool open_loop(struct loop *loop)
{
    struct site *site = loop->site;
    loop->epoll_fd = epoll_create1(EPOLL_CLOEXEC);
    loop->signal_fd = open_signals();
    if (loop->epoll_fd < 0 || loop->signal_fd < 0) {
        log_line(LOG_LEVEL_ERROR, "the loop cannot be opened: %s", strerror(errno));
        return false;
    }
    watch(loop, loop->signal_fd);
    watch(loop, clock_fd(site->clock));
    watch(loop, mailbox_fd(site->lines.answers));
    watch(loop, mailbox_fd(site->broker.inbox));
    watch(loop, mailbox_fd(site->thermometers.answers));
    watch(loop, site->socket.fd);
    uint64_t watchdog_us = 0;
    if (sd_watchdog_enabled(0, &watchdog_us) > 0)
        loop->watchdog_us = (int64_t)watchdog_us;
    return true;
}

int site_run(struct site *site)
{
    struct loop loop = {.site = site, .patted = site->common.now.mono};
    if (!open_loop(&loop))
        return EXIT_FAILURE;
    sd_notify(0, "READY=1");
    loop.granted_open = clock_is_granted(site->clock);
    meters_ask(&site->inputs, &site->lines, &site->common);
    board_ask(&site->board, site->common.now.mono);
    thermometers_ask(&site->thermometers, site->common.now.mono);
    take_turn(&loop);
    while (!site->stopping) {
        struct epoll_event events[EVENTS_MAX];
        int count = epoll_wait(loop.epoll_fd, events, EVENTS_MAX, -1);
        if (count < 0 && errno != EINTR)
            break;
        take_time(&loop);
        for (int k = 0; k < count; k++)
            dispatch(&loop, events[k].data.fd);
        if (!site->stopping)
            take_turn(&loop);
    }
    sd_notify(0, "STOPPING=1");
    close(loop.signal_fd);
    close(loop.epoll_fd);
    return site->stopping ? EXIT_SUCCESS : EXIT_FAILURE;
}
