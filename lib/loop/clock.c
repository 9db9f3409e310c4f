/* clock.c - the system's time, or a simulator's.
 *
 * The system clock is a timerfd that wakes the loop at the latest at the moment
 * the last turn asked for. The granted clock is a socket that is readable when
 * the next grant has come; a turn answers "done" when all it started has ended,
 * and only then does the simulator go on. So the same loop runs at the pace of
 * the world or as fast as the machine allows, and cannot tell the two apart.
 *
 * CLOCK_BOOTTIME, since it counts through a suspend. */
#include "loop/clock.h"

#include <errno.h>
#include <glob.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/timerfd.h>
#include <sys/timex.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>

enum { LINE_BYTES = 96 };

/* 2026-01-01T00:00:00Z. A battery clock that is behind this program's own age
 * has lost its battery: such clocks begin at 1970 or 2000. */
static const int64_t OLDEST_TRUE_WALL_MS = INT64_C(1767225600000);

struct clock {
    int fd;
    bool granted;
    bool battery_clock; /* system: the kernel took its time from one at boot */
    bool ended;         /* granted: the simulator has gone */
    struct moment last;
    char line[LINE_BYTES]; /* granted: what has come of the next line */
    size_t line_used;
};

static int64_t read_ms(clockid_t which)
{
    struct timespec t;
    clock_gettime(which, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* adjtimex(2): TIME_ERROR and STA_UNSYNC both say "not synchronised". */
static bool kernel_synchronised(void)
{
    struct timex state = {.modes = 0};
    int answer = adjtimex(&state);
    return answer >= 0 && answer != TIME_ERROR && !(state.status & STA_UNSYNC);
}

static bool file_says_one(const char *path)
{
    FILE *file = fopen(path, "re");
    if (!file) {
        return false;
    }
    bool one = fgetc(file) == '1';
    fclose(file);
    return one;
}

/* The kernel sets "hctosys" of the clock chip from which it took the time at
 * boot (Documentation/ABI/testing/sysfs-class-rtc). */
static bool set_from_battery_clock(const char *pattern)
{
    glob_t found;
    if (glob(pattern, 0, NULL, &found) != 0) {
        return false;
    }
    bool set = false;
    for (size_t i = 0; i < found.gl_pathc && !set; i++) {
        set = file_says_one(found.gl_pathv[i]);
    }
    globfree(&found);
    return set;
}

static struct clock *clock_new(struct trouble *trouble)
{
    struct clock *clock = calloc(1, sizeof *clock);
    if (!clock) {
        trouble_set(trouble, "", "no memory for the clock");
        return NULL;
    }
    clock->fd = -1;
    return clock;
}

struct clock *clock_system(struct trouble *trouble)
{
    struct clock *clock = clock_new(trouble);
    if (!clock) {
        return NULL;
    }
    clock->battery_clock = set_from_battery_clock("/sys/class/rtc/*/hctosys");
    clock->fd = timerfd_create(CLOCK_BOOTTIME, TFD_NONBLOCK | TFD_CLOEXEC);
    if (clock->fd < 0) {
        trouble_set(trouble, "", "no timer: %s", strerror(errno));
        clock_free(clock);
        return NULL;
    }
    return clock;
}

static bool connect_to(struct clock *clock, const char *path, struct trouble *trouble)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    if (strlen(path) >= sizeof address.sun_path) {
        return trouble_set(trouble, path, "is too long for a socket: at most %zu characters",
                           sizeof address.sun_path - 1);
    }
    strcpy(address.sun_path, path);
    clock->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (clock->fd < 0 ||
        connect(clock->fd, (const struct sockaddr *)&address, sizeof address) != 0) {
        return trouble_set(trouble, path, "no simulator grants time here: %s", strerror(errno));
    }
    return true;
}

struct clock *clock_granted(const char *socket_path, struct trouble *trouble)
{
    struct clock *clock = clock_new(trouble);
    if (!clock) {
        return NULL;
    }
    clock->granted = true;
    if (!connect_to(clock, socket_path, trouble)) {
        clock_free(clock);
        return NULL;
    }
    return clock;
}

void clock_free(struct clock *clock)
{
    if (!clock) {
        return;
    }
    if (clock->fd >= 0) {
        close(clock->fd);
    }
    free(clock);
}

bool clock_is_granted(const struct clock *clock)
{
    return clock->granted;
}

int clock_fd(const struct clock *clock)
{
    return clock->fd;
}

void clock_wake_at(struct clock *clock, struct mono at)
{
    if (clock->granted) {
        return;
    }
    /* A time of 0 would disarm the timer. */
    int64_t ms = at.ms > 0 ? at.ms : 1;
    struct itimerspec timer = {
        .it_value = {.tv_sec = ms / 1000, .tv_nsec = (long)(ms % 1000) * 1000000}};
    if (at.ms == MONO_NEVER.ms) {
        timer = (struct itimerspec){0};
    }
    timerfd_settime(clock->fd, TFD_TIMER_ABSTIME, &timer, NULL);
}

static void take_system(struct clock *clock, struct moment *now)
{
    uint64_t ticks;
    ssize_t ignored = read(clock->fd, &ticks, sizeof ticks); /* lowers it; may be empty */
    (void)ignored;
    now->mono.ms = read_ms(CLOCK_BOOTTIME);
    now->wall.ms = read_ms(CLOCK_REALTIME);
    now->wall_trusted =
        kernel_synchronised() || (clock->battery_clock && now->wall.ms >= OLDEST_TRUE_WALL_MS);
}

/* Takes what has come, up to the end of one line and no further: what is left
 * keeps the socket readable. True: a whole line stands in clock->line. */
static bool take_line(struct clock *clock)
{
    size_t room = sizeof clock->line - 1 - clock->line_used;
    char *end = clock->line + clock->line_used;
    ssize_t seen = recv(clock->fd, end, room, MSG_PEEK | MSG_DONTWAIT);
    if (seen <= 0) {
        bool waiting = seen < 0 && (errno == EAGAIN || errno == EINTR);
        clock->ended = !waiting;
        return false;
    }
    const char *stop = memchr(end, '\n', (size_t)seen);
    size_t wanted = stop ? (size_t)(stop - end) + 1 : (size_t)seen;
    ssize_t got = recv(clock->fd, end, wanted, MSG_DONTWAIT);
    clock->line_used += got > 0 ? (size_t)got : 0;
    clock->line[clock->line_used] = '\0';
    if (!stop && clock->line_used == sizeof clock->line - 1) {
        clock->ended = true; /* no grant is that long: this is no simulator */
    }
    return stop != NULL;
}

static bool parse_grant(const char *line, struct moment *moment)
{
    int trusted, used = 0;
    if (sscanf(line, "grant %" SCNd64 " %" SCNd64 " %d%n", &moment->mono.ms, &moment->wall.ms,
               &trusted, &used) != 3 ||
        line[used] != '\n') {
        return false;
    }
    moment->wall_trusted = trusted == 1;
    return moment->mono.ms >= 0;
}

static bool take_granted(struct clock *clock, struct moment *now)
{
    struct moment granted;
    bool whole = !clock->ended && take_line(clock);
    bool taken = whole && parse_grant(clock->line, &granted);
    if (whole) {
        clock->line_used = 0;
        clock->ended = !taken;
    }
    if (taken) {
        clock->last = granted;
    }
    *now = clock->last;
    return taken;
}

bool clock_take(struct clock *clock, struct moment *now, bool *ended)
{
    *ended = false;
    if (!clock->granted) {
        take_system(clock, now);
        return true;
    }
    bool taken = take_granted(clock, now);
    *ended = clock->ended;
    return taken;
}

void clock_done(struct clock *clock)
{
    static const char answer[] = "done\n";
    if (clock->granted &&
        send(clock->fd, answer, sizeof answer - 1, MSG_NOSIGNAL) != (ssize_t)sizeof answer - 1) {
        clock->ended = true;
    }
}

int64_t clock_monotonic_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}
