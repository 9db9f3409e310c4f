/* watch.h - epoll, each descriptor with a number of its own. */
#ifndef SLUICE_GATEWAY_WATCH_H
#define SLUICE_GATEWAY_WATCH_H

#include <stdint.h>
#include <sys/epoll.h>

/* Beyond the numbers of clients. */
enum { WATCH_LISTEN = 100000, WATCH_NEWS, WATCH_SAMPLES, WATCH_WAKE };

static inline void watch_fd(int epoll_fd, int fd, uint32_t number, uint32_t events)
{
    struct epoll_event event = {.events = events, .data.u32 = number};
    epoll_ctl(epoll_fd, EPOLL_CTL_ADD, fd, &event);
}

static inline void watch_change(int epoll_fd, int fd, uint32_t number, uint32_t events)
{
    struct epoll_event event = {.events = events, .data.u32 = number};
    epoll_ctl(epoll_fd, EPOLL_CTL_MOD, fd, &event);
}

#endif
