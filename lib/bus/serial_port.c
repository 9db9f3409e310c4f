/* serial_port.c - one way to open a serial port: asking, listening, or serving on it. */
#include "bus/serial_port.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

static const struct {
    int32_t baud;
    speed_t speed;
} speeds[] = {
    {110, B110},       {300, B300},       {600, B600},         {1200, B1200},     {1800, B1800},
    {2400, B2400},     {4800, B4800},     {9600, B9600},       {19200, B19200},   {38400, B38400},
    {57600, B57600},   {115200, B115200}, {230400, B230400},   {460800, B460800}, {500000, B500000},
    {576000, B576000}, {921600, B921600}, {1000000, B1000000},
};

static const speed_t *find_speed(int32_t baud)
{
    for (size_t k = 0; k < sizeof speeds / sizeof speeds[0]; k++)
        if (speeds[k].baud == baud)
            return &speeds[k].speed;
    return NULL;
}

bool serial_baud_is_known(int32_t baud)
{
    return find_speed(baud) != NULL;
}

/* Parity is not checked by the driver: a frame's CRC says more, and a byte that the driver
 * replaced would be lost for it. */
static bool set_line(int fd, int32_t baud, uint8_t parity, uint8_t stop_bits, enum serial_use use)
{
    struct termios line;
    const speed_t *speed = find_speed(baud);
    if (!speed || tcgetattr(fd, &line) != 0) {
        errno = speed ? errno : EINVAL;
        return false;
    }
    cfmakeraw(&line);
    line.c_cflag &= (tcflag_t) ~(CSTOPB | PARENB | PARODD | CRTSCTS);
    line.c_cflag |= CREAD | CLOCAL | CS8 | (stop_bits == 2 ? CSTOPB : 0);
    if (parity != PARITY_NONE)
        line.c_cflag |= PARENB | (parity == PARITY_ODD ? PARODD : 0);
    line.c_iflag &= (tcflag_t) ~(INPCK | IXON | IXOFF | IGNPAR | PARMRK);
    line.c_cc[VMIN] = 1;
    line.c_cc[VTIME] = 0;
    if (cfsetspeed(&line, *speed) != 0)
        return false;
    if (tcsetattr(fd, TCSANOW, &line) == 0)
        return true;
    /* A port that knows no parity (a pty, some adapters): all else is set, which will do to
     * listen. */
    return errno == EINVAL && use == SERIAL_LISTEN && tcgetattr(fd, &line) == 0 &&
           cfgetispeed(&line) == *speed;
}

static bool take_port(int fd, const char *port, int32_t baud, uint8_t parity, uint8_t stop_bits,
                      enum serial_use use, const char *place, struct trouble *trouble)
{
    if (!isatty(fd))
        return trouble_set(trouble, place, "%s is not a serial port", port);
    if (flock(fd, LOCK_EX | LOCK_NB) != 0)
        return trouble_set(trouble, place, "%s: in use by another program", port);
    if (!set_line(fd, baud, parity, stop_bits, use))
        return trouble_set(trouble, place, "%s: %s", port, strerror(errno));
    ioctl(fd, TIOCEXCL);
    if (use == SERIAL_TALK)
        tcflush(fd, TCIOFLUSH);
    return true;
}

int serial_open(const char *port, int32_t baud, uint8_t parity, uint8_t stop_bits,
                enum serial_use use, const char *place, struct trouble *trouble)
{
    int access = use == SERIAL_LISTEN ? O_RDONLY : O_RDWR;
    int fd = open(port, access | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0) {
        bool gone = errno == ENOENT || errno == ENODEV || errno == ENXIO;
        trouble_set(trouble, place, "serial port %s: %s", port,
                    gone ? "no such device (adapter unplugged?)" : strerror(errno));
        return -1;
    }
    if (use == SERIAL_LISTEN) {
        const int sends = TIOCM_RTS; /* some adapters drive the line while it is set */
        ioctl(fd, TIOCMBIC, &sends); /* a pty has none */
    }
    if (take_port(fd, port, baud, parity, stop_bits, use, place, trouble))
        return fd;
    close(fd);
    return -1;
}

void serial_close(int fd)
{
    if (fd < 0)
        return;
    ioctl(fd, TIOCNXCL);    /* a pty remembers it beyond its last user */
    tcflush(fd, TCIOFLUSH); /* or closing waits for a line that is stuck */
    close(fd);
}
