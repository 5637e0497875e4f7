// The time step on a GPU: docs/theory.md, whose symbols and equation numbers are used here.
//
// Cells lie in a box that holds the whole room, x fastest, so that neighbours stand at fixed distances. Regular cells
// have the weights of their planes along x, y and z, and nothing else happens in them; all others are special: they
// have a row of weights of their own, walls, impedance links or a place under a port. A step reads p and the state of
// its own cell and writes its own cell only, so one launch does it all; the ports follow in a second one. q holds the
// pressure of the step before and receives that of the next. `ahead` counts steps from `clock`, the step at which a
// batch began, `odd` tells which of both pressures is p.
//
// With four excitations or more a thread takes four of them and walks along x ("wide"); with fewer it takes four cells
// of a row and walks along z ("narrow").

typedef REAL real;

struct alignas(4 * sizeof(real)) Four {
    real x, y, z, w;
};

struct alignas(2 * sizeof(real)) Two {
    real x, y;
};

// Every member has eight bytes. Arrays over excitations hold `width` numbers a row, in the wide step filled up to fours.
struct Room {
    // Pressures of even and of odd steps. From a cell to the next along x there are `apart` numbers, from an excitation
    // to the next `field`. The first cell stands at `origin`.
    real *pressure_even, *pressure_odd;
    int *clock;
    long long width, apart, field, origin, nx, ny, nz, cells;
    double dt, rate;
    const int *place;           // (cell,)
    const real *volume;
    // Regular cells: along each axis, weights of the neighbours -2, -1, 1, 2 of each plane; along x in the narrow step
    // four rows of all planes. Bits of the cells: (z, y, piece) or (z, y, four cells).
    const real *weight_x, *weight_y, *weight_z;
    const unsigned *regular_wide;
    const unsigned char *regular_narrow;
    long long piece, blocks_x, blocks_y, regular_blocks;
    // Special cells: the first ones have impedance links, the slow ones also several faces (narrow step: all). Place,
    // row of weights, boundary row or -1, first face, faces (if few and of one branch each, else 0), ends of links. Of
    // `every_block` blocks, the first has special cells.
    long long specials, linked, slow, slow_blocks, special_blocks, every_block, entries;
    const int *special_place, *special_kind, *special_wall, *special_face, *special_faces, *special_end;
    const int *entry_offset;    // (kind, entry)
    const real *entry_weight;
    // Ends of impedance links: the link, the cell at the other end, c² dt rho A/V (< 0: this is the second cell).
    // Velocities and ways (even or odd step, link, excitation), as both ends read them.
    long long links;
    const int *end_link, *end_other;
    const real *end_into, *link_keep, *link_push, *link_pull;
    real *link_u, *link_x;
    // Walls: faces of each boundary row, 1/(1 + sum beta alpha), S; classes and branches of faces, then those of ports.
    long long free_walls;       // boundary rows that are under no port
    const int *face_pointer, *face_kind, *face_state, *face_branch, *face_first;
    const real *face_strength, *wall_inverse;
    const real *face_coupling, *face_damping, *face_mass, *face_a, *face_b, *face_g;
    real *face_v, *face_x, *cell_sum;
    // Ports: members by port (place, share) and by cell (port, beta); velocities; electronics (18), E is `matrix`.
    long long ports, port_cells, port_kind, port_state, most_states;
    const int *port_place, *port_pointer, *member_place, *cell_pointer, *cell_port, *control_size;
    const real *port_share, *cell_strength;
    const real *port_solve;     // (port, port, excitation)
    const real *control_matrix, *control_drive, *control_read, *control_past;
    real *port_before, *port_velocity, *port_past, *control_x, *control_next;
    // Sources, seats, maps and strength.
    long long sources, seats, every, frequencies, stride, samples;
    const long long *source_element;
    const int *seat_pointer, *seat_place;
    const real *source_weight, *signal, *seat_weight;
    const real *cosine, *sine;  // (sample, frequency)
    real *map_real, *map_imag;  // (frequency, cell, excitation)
    double *seat_record;        // (sample, seat, excitation)
    double *strength;
};

#define INSIDE static __device__ __forceinline__
const int STRENGTHS = 1024, PORT_EXCITATIONS = 8, MOST_SINGLE = 3, ENDS = 3;

INSIDE Four operator+(Four a, Four b) { return {a.x + b.x, a.y + b.y, a.z + b.z, a.w + b.w}; }
INSIDE Four operator-(Four a, Four b) { return {a.x - b.x, a.y - b.y, a.z - b.z, a.w - b.w}; }
INSIDE Four operator*(Four a, Four b) { return {a.x * b.x, a.y * b.y, a.z * b.z, a.w * b.w}; }
INSIDE Four operator*(real a, Four b) { return {a * b.x, a * b.y, a * b.z, a * b.w}; }

INSIDE real *now_of(const Room &r, int odd) { return odd ? r.pressure_odd : r.pressure_even; }
INSIDE real *next_of(const Room &r, int odd) { return odd ? r.pressure_even : r.pressure_odd; }

// Where the pressure of a cell stands.
INSIDE long long element(const Room &r, long long place, int e) { return place * r.apart + e * r.field; }

// Numbers of a row of excitations from e on; V : real or Four, of one excitation or four.
template <class V> INSIDE V &of(const Room &r, real *rows, long long row, int e) {
    return *(V *)(rows + row * r.width + e);
}

template <class V> INSIDE V of(const Room &r, const real *rows, long long row, int e) {
    return *(const V *)(rows + row * r.width + e);
}

// What a branch would have as velocity without pressure (10).
template <class V> INSIDE V branch_alone(const Room &r, int branch, int e, V v, V x) {
    return of<V>(r, r.face_b, branch, e) * v - of<V>(r, r.face_g, branch, e) * x;
}

// v, the velocity of a face now, and delta h + alpha m v, which it would have a step later without pressure (11);
// v and h already hold what electronics add to them.
INSIDE void face_alone(const Room &r, int kind, int state, int e, real &v, real &past, real h = 0) {
    for (int branch = r.face_first[kind]; branch < r.face_first[kind + 1]; branch++, state++) {
        real one = of<real>(r, r.face_v, state, e);
        v += one;
        h += branch_alone(r, branch, e, one, of<real>(r, r.face_x, state, e));
    }
    size_t k = kind * r.width + e;
    past = r.face_damping[k] * h + r.face_coupling[k] * r.face_mass[k] * v;
}

// p+ of a boundary cell from p*, its faces eliminated (12).
INSIDE real eliminate(const Room &r, int wall, int e, real p, real star) {
    size_t own = wall * r.width + e;
    real lag = r.cell_sum[own], sum = 0, past;
    for (int face = r.face_pointer[wall]; face < r.face_pointer[wall + 1]; face++) {
        int kind = r.face_kind[face];
        real beta = r.face_strength[face], v = 0;
        face_alone(r, kind, r.face_state[face], e, v, past);
        sum += beta * v;
        lag -= beta * (of<real>(r, r.face_coupling, kind, e) * p + past);
    }
    r.cell_sum[own] = sum;
    return (star + lag) * r.wall_inverse[own];
}

// The branches of a face move, by the pressure p+ + p before them (10).
INSIDE void move_branches(const Room &r, int kind, int state, int e, real both) {
    for (int branch = r.face_first[kind]; branch < r.face_first[kind + 1]; branch++, state++) {
        real &v = of<real>(r, r.face_v, state, e), &x = of<real>(r, r.face_x, state, e);
        real moved = of<real>(r, r.face_a, branch, e) * both + branch_alone(r, branch, e, v, x);
        x += real(0.5 * r.dt) * (moved + v);
        v = moved;
    }
}

// The faces of a boundary cell move, once p+ is known (13).
INSIDE void move_faces(const Room &r, int wall, int e, real p, real p_next) {
    for (int face = r.face_pointer[wall]; face < r.face_pointer[wall + 1]; face++) {
        int kind = r.face_kind[face], state = r.face_state[face];
        real both = p_next + p, v = 0, past, m = of<real>(r, r.face_mass, kind, e);
        face_alone(r, kind, state, e, v, past);
        both -= m * (of<real>(r, r.face_coupling, kind, e) * both + past - v);
        move_branches(r, kind, state, e, both);
    }
}

// A face of one branch (m = 0, delta = 1, alpha = a).
template <class V> struct Face {
    V a, v, x, alone;
    real beta;
    int state;
};

template <class V> INSIDE Face<V> face_of(const Room &r, int face, int e) {
    int branch = r.face_branch[face], state = r.face_state[face];
    V v = of<V>(r, r.face_v, state, e), x = of<V>(r, r.face_x, state, e);
    return {of<V>(r, r.face_a, branch, e), v, x, branch_alone(r, branch, e, v, x), r.face_strength[face], state};
}

template <class V> INSIDE void move_face(const Room &r, const Face<V> &face, int e, V both) {
    V moved = face.a * both + face.alone;
    of<V>(r, r.face_v, face.state, e) = moved;
    of<V>(r, r.face_x, face.state, e) = face.x + real(0.5 * r.dt) * (moved + face.v);
}

// p+ of a cell with up to MOST_SINGLE such faces, which move too (12, 10). All is read before anything is written, so
// that the reads overlap; the last face stands in, without strength, for those that lack.
INSIDE real single_walls(const Room &r, int first, int faces, int e, real p, real star, real inverse, real &sum) {
    Face<real> face[MOST_SINGLE];
    star += sum;
    sum = 0;
    #pragma unroll
    for (int k = 0; k < MOST_SINGLE; k++) {
        face[k] = face_of<real>(r, first + min(k, faces - 1), e);
        if (k >= faces) face[k].beta = 0;
        star -= face[k].beta * (face[k].a * p + face[k].alone);
        sum += face[k].beta * face[k].v;
    }
    real p_next = inverse * star;
    #pragma unroll
    for (int k = 0; k < MOST_SINGLE; k++)
        if (k < faces) move_face(r, face[k], e, p_next + p);
    return p_next;
}

// What the impedance links of a cell take from p* (8, 9). Both ends work out the same u+; the first cell's keeps it.
// Some ends at a time, all read before anything is written.
INSIDE real links_take(const Room &r, int odd, int special, int e, const real *p, real here) {
    real taken = 0, u[ENDS], x[ENDS], over[ENDS], into[ENDS];
    int link[ENDS], last = r.special_end[special + 1];
    long long now = odd ? r.links : 0, next = odd ? 0 : r.links;
    for (int first = r.special_end[special]; first < last; first += ENDS) {
        #pragma unroll
        for (int k = 0; k < ENDS; k++) {
            int end = min(first + k, last - 1);
            link[k] = r.end_link[end];
            into[k] = first + k < last ? r.end_into[end] : 0;
            over[k] = here - p[element(r, r.end_other[end], e)];
            u[k] = of<real>(r, r.link_u, now + link[k], e);
            x[k] = of<real>(r, r.link_x, now + link[k], e);
        }
        #pragma unroll
        for (int k = 0; k < ENDS; k++) {
            real push = into[k] > 0 ? r.link_push[link[k]] : -r.link_push[link[k]];
            real moved = r.link_keep[link[k]] * u[k] + push * over[k] - r.link_pull[link[k]] * x[k];
            taken += into[k] * (moved - u[k]);
            if (into[k] > 0) {
                of<real>(r, r.link_u, next + link[k], e) = moved;
                of<real>(r, r.link_x, next + link[k], e) = x[k] + real(r.dt) * moved;
            }
        }
    }
    return taken;
}

// p+ of a boundary cell that has not just one plain face; p° if it is under a port.
INSIDE real other_walls(const Room &r, int special, int wall, int e, real p, real star, real inverse, real sum) {
    int faces = r.special_faces[special];
    if (faces > 1) {
        star = single_walls(r, r.special_face[special], faces, e, p, star, inverse, sum);
        of<real>(r, r.cell_sum, wall, e) = sum;
    } else {
        star = eliminate(r, wall, e, p, star);
        if (wall < r.free_walls) move_faces(r, wall, e, p, star);
    }
    return star;
}

// Four excitations are taken together only where there is no more than one face.
INSIDE Four links_take(const Room &, int, int, int, const real *, Four) { return {}; }
INSIDE Four other_walls(const Room &, int, int, int, Four, Four star, Four, Four) { return star; }

// p* of a special cell (5, 8, 9), and p+ unless it is under a port.
template <class V> INSIDE void special_cell(const Room &r, int odd, const real *p, real *q, int special, int e) {
    long long own = element(r, r.special_place[special], e);
    int wall = r.special_wall[special], faces = r.special_faces[special];
    const int *offset = r.entry_offset + r.special_kind[special] * r.entries;
    const real *weight = r.entry_weight + r.special_kind[special] * r.entries;
    // The first face and what a wall keeps are asked for here, needed or not: they come in with the pressures.
    Face<V> face = face_of<V>(r, r.special_face[special], e);
    V inverse = of<V>(r, r.wall_inverse, max(wall, 0), e), sum = of<V>(r, r.cell_sum, max(wall, 0), e);
    V here = *(const V *)(p + own), star = here - *(const V *)(q + own) + here;
    const int together = sizeof(V) == sizeof(real) ? 12 : 6;  // as there are registers for
    for (int some = 0; some < r.entries; some += together) {
        #pragma unroll
        for (int k = some; k < some + together; k++)
            star = star + weight[k] * (*(const V *)(p + own + offset[k] * r.apart) - here);
    }
    if (special < r.linked) star = star - links_take(r, odd, special, e, p, here);
    if (faces == 1) {
        star = inverse * (star + sum - face.beta * (face.a * here + face.alone));  // (12)
        of<V>(r, r.cell_sum, wall, e) = face.beta * face.v;
        move_face(r, face, e, star + here);
    } else if (wall >= 0) {
        star = other_walls(r, special, wall, e, here, star, inverse, sum);
    }
    *(V *)(q + own) = star;
}

// A seat's pressure (21).
INSIDE void record(const Room &r, const real *p, int ahead, unsigned item) {
    int step = r.clock[0] + ahead, seat = item / unsigned(r.width), e = item % unsigned(r.width);
    if (seat >= r.seats) return;
    double sum = 0;
    #pragma unroll 16
    for (int k = r.seat_pointer[seat]; k < r.seat_pointer[seat + 1]; k++)
        sum += double(r.seat_weight[k]) * p[element(r, r.seat_place[k], e)];
    long long sample = step / r.every - (r.clock[0] + r.every - 1) / r.every;
    r.seat_record[sample * r.seats * r.width + item] = sum;
}

// What a block does if it has no regular cells. Every so many blocks have special cells, so that those, which wait for
// memory, run beside others, which fill its way; the last have seats. `block` becomes the number among the regular ones.
template <bool WIDE> INSIDE bool other_work(const Room &r, int odd, int ahead, const real *p, real *q, unsigned &block) {
    unsigned thread = threadIdx.x + blockDim.x * (threadIdx.y + blockDim.y * threadIdx.z);
    unsigned threads = blockDim.x * blockDim.y * blockDim.z, special = block / unsigned(r.every_block);
    if (special * unsigned(r.every_block) == block && special < r.special_blocks) {
        unsigned item = special * threads + thread, number = r.slow, width = r.width;
        if (!WIDE) {
            if (item / number < width) special_cell<real>(r, odd, p, q, item % number, item / number);
        } else if (special < r.slow_blocks) {
            if (item / width < number) special_cell<real>(r, odd, p, q, item / width, item % width);
        } else {
            item -= unsigned(r.slow_blocks) * threads;
            int cell = number + item / (width / 4);
            if (cell < r.specials) special_cell<Four>(r, odd, p, q, cell, item % (width / 4) * 4);
        }
        return true;
    }
    block -= min(special + 1, unsigned(r.special_blocks));
    if (block < r.regular_blocks) return false;
    record(r, p, ahead, (block - (unsigned)r.regular_blocks) * threads + thread);
    return true;
}

// What an axis adds to p* (5): differences, as K knows no others, of which little is lost in single precision.
INSIDE Four weighted(const real *w, Four c, Four m2, Four m1, Four p1, Four p2) {
    return w[0] * (m2 - c) + w[1] * (m1 - c) + w[2] * (p1 - c) + w[3] * (p2 - c);
}

extern "C" __global__ void __launch_bounds__(128, 6) step_wide(Room r, int odd, int ahead) {
    const real *__restrict__ pressure = now_of(r, odd);
    real *__restrict__ other = next_of(r, odd);
    unsigned block = blockIdx.x, blocks_x = r.blocks_x, blocks_y = r.blocks_y;
    if (other_work<true>(r, odd, ahead, pressure, other, block)) return;
    int nx = r.nx, ny = r.ny, piece = block % blocks_x, x = piece * (int)r.piece;
    int y = block / blocks_x % blocks_y * blockDim.y + threadIdx.y;
    int z = block / blocks_x / blocks_y * blockDim.z + threadIdx.z;
    if (y >= ny || z >= r.nz) return;
    unsigned regular = r.regular_wide[(z * ny + y) * blocks_x + piece];
    const real *wy = r.weight_y + 4 * y, *wz = r.weight_z + 4 * z;
    long long quads = blockDim.x, line = nx * quads, layer = ny * line;
    long long first = (r.origin + x + nx * (y + (long long)ny * z)) * quads + threadIdx.x;
    const Four *__restrict__ p = (const Four *)pressure + first;
    Four *__restrict__ q = (Four *)other + first;
    Four m2 = p[-2 * quads], m1 = p[-quads], c = p[0], p1 = p[quads];
    for (; regular; regular >>= 1, x++, p += quads, q += quads) {
        Four p2 = p[2 * quads];
        if (regular & 1) {
            const real *wx = r.weight_x + 4 * x;
            Four x4 = weighted(wx, c, m2, m1, p1, p2);
            Four y4 = weighted(wy, c, p[-2 * line], p[-line], p[line], p[2 * line]);
            Four z4 = weighted(wz, c, p[-2 * layer], p[-layer], p[layer], p[2 * layer]);
            *q = c - *q + c + (x4 + y4 + z4);
        }
        m2 = m1, m1 = c, c = p1, p1 = p2;
    }
}

INSIDE void narrow(const Room &r, int odd, int ahead) {
    const real *__restrict__ pressure = now_of(r, odd);
    real *__restrict__ other = next_of(r, odd);
    unsigned block = blockIdx.x, blocks_x = r.blocks_x, blocks_y = r.blocks_y;
    if (other_work<false>(r, odd, ahead, pressure, other, block)) return;
    unsigned field = r.regular_blocks / r.width, e = block / field;
    int nx = r.nx, ny = r.ny, x = 4 * (block % blocks_x * blockDim.x + threadIdx.x);
    int y = block / blocks_x % blocks_y * blockDim.y + threadIdx.y;
    int z = block % field / blocks_x / blocks_y * (int)r.piece, last = min(z + (int)r.piece, (int)r.nz);
    if (x >= nx || y >= ny) return;
    const real *wy = r.weight_y + 4 * y;
    const Four *wx = (const Four *)(r.weight_x + x);  // of the four cells, in rows
    long long row = nx, layer = (long long)ny * nx, at = x + nx * (y + (long long)ny * z);
    const real *__restrict__ p = pressure + r.origin + at + e * r.field;
    real *__restrict__ q = other + (p - pressure);
    #define AT(k) (*(const Four *)(p + (k)))
    Four m2 = AT(-2 * layer), m1 = AT(-layer), c = AT(0), p1 = AT(layer), p2 = AT(2 * layer), old = *(const Four *)q;
    for (; z < last; z++, p += layer, q += layer, at += layer) {
        Four p3 = AT(3 * layer), old_next = *(const Four *)(q + layer);  // of the next turn: memory is far
        int regular = r.regular_narrow[at / 4];
        const real *wz = r.weight_z + 4 * z;
        Two l = *(const Two *)(p - 2), n = *(const Two *)(p + 4);
        Four x_2 = {l.x, l.y, c.x, c.y}, x_1 = {l.y, c.x, c.y, c.z}, x1 = {c.y, c.z, c.w, n.x}, x2 = {c.z, c.w, n.x, n.y};
        Four x4 = wx[0] * (x_2 - c) + wx[nx / 4] * (x_1 - c) + wx[nx / 2] * (x1 - c) + wx[3 * nx / 4] * (x2 - c);
        Four y4 = weighted(wy, c, AT(-2 * row), AT(-row), AT(row), AT(2 * row));
        Four z4 = weighted(wz, c, m2, m1, p1, p2), star = c - old + c + (x4 + y4 + z4);
        if (regular == 15) {
            *(Four *)q = star;
        } else {
            if (regular & 1) q[0] = star.x;
            if (regular & 2) q[1] = star.y;
            if (regular & 4) q[2] = star.z;
            if (regular & 8) q[3] = star.w;
        }
        m2 = m1, m1 = c, c = p1, p1 = p2, p2 = p3, old = old_next;
    }
}

extern "C" __global__ void __launch_bounds__(128, 7) step_narrow(Room r, int odd, int ahead) { narrow(r, odd, ahead); }

// The same for a room that does not fill the GPU, with more registers for each thread.
extern "C" __global__ void __launch_bounds__(128, 4) step_small(Room r, int odd, int ahead) { narrow(r, odd, ahead); }

// The sources, ahead of the step (20): p* holds -q, so what they add is taken off q.
extern "C" __global__ void drive(Room r, int odd, int ahead) {
    long long k = (long long)blockIdx.x * blockDim.x + threadIdx.x;
    if (k < r.sources) next_of(r, odd)[r.source_element[k]] -= r.source_weight[k] * r.signal[r.clock[0] + ahead];
}

// p+ + p, averaged over a port.
INSIDE real port_mean(const Room &r, int odd, int port, int e) {
    const real *p = now_of(r, odd), *q = next_of(r, odd);
    real mean = 0;
    #pragma unroll 4
    for (int k = r.port_pointer[port]; k < r.port_pointer[port + 1]; k++) {
        size_t own = element(r, r.member_place[k], e);
        mean += r.port_share[k] * (p[own] + q[own]);
    }
    return mean;
}

INSIDE int port_state(const Room &r, int port) {
    return r.port_state + r.face_first[r.port_kind + port] - r.face_first[r.port_kind];
}

// The right side of (17) for a port: its own past and the pressure without it.
INSIDE void port_alone(const Room &r, int odd, int port, int e) {
    real v = 0, h = 0, past;
    for (int m = 0; m < r.control_size[port]; m++) {
        size_t z = (port * r.most_states + m) * r.width + e;
        v += r.control_read[z] * r.control_x[z];
        h += r.control_past[z] * r.control_x[z];
    }
    face_alone(r, r.port_kind + port, port_state(r, port), e, v, past, h);
    real alpha = of<real>(r, r.face_coupling, r.port_kind + port, e);
    of<real>(r, r.port_past, port, e) = past + alpha * port_mean(r, odd, port, e);
    of<real>(r, r.port_before, port, e) = v;
}

// Branches and electronics of a port, once p+ is known (10, 13, 18).
INSIDE void move_port(const Room &r, int odd, int port, int e) {
    real gained = of<real>(r, r.port_velocity, port, e) - of<real>(r, r.port_before, port, e);
    real both = port_mean(r, odd, port, e) - of<real>(r, r.face_mass, r.port_kind + port, e) * gained;
    move_branches(r, r.port_kind + port, port_state(r, port), e, both);
    int size = r.control_size[port], first = port * r.most_states;
    for (int m = first; m < first + size; m++) {
        real next = of<real>(r, r.control_drive, m, e) * both;
        for (int k = 0; k < size; k++)
            next += of<real>(r, r.control_matrix, m * r.most_states + k, e) * of<real>(r, r.control_x, first + k, e);
        of<real>(r, r.control_next, m, e) = next;
    }
    for (int m = first; m < first + size; m++)
        of<real>(r, r.control_x, m, e) = of<real>(r, r.control_next, m, e);
}

// Sum of beta velocity/D over the ports that cover a cell (12, 17).
INSIDE real from_ports(const Room &r, int cell, int e, const real *velocity) {
    real sum = 0;
    for (int k = r.cell_pointer[cell]; k < r.cell_pointer[cell + 1]; k++)
        sum += r.cell_strength[k] * velocity[r.cell_port[k] * r.width + e];
    return sum * r.wall_inverse[(r.free_walls + cell) * r.width + e];
}

// Faces that move as one, all of them for a few excitations in a block of threads (17).
extern "C" __global__ void ports(Room r, int odd, int) {
    const real *p = now_of(r, odd);
    real *q = next_of(r, odd);
    int thread = threadIdx.x, threads = blockDim.x, e0 = blockIdx.x * PORT_EXCITATIONS;
    int here = min((long long)PORT_EXCITATIONS, r.width - e0);
    for (int k = thread; k < r.port_cells * here; k += threads)
        q[element(r, r.port_place[k / here], e0 + k % here)] += from_ports(r, k / here, e0 + k % here, r.port_before);
    __syncthreads();
    for (int k = thread; k < r.ports * here; k += threads) port_alone(r, odd, k / here, e0 + k % here);
    __syncthreads();
    for (int k = thread; k < r.ports * here; k += threads) {
        long long port = k / here, e = e0 + k % here;
        real velocity = 0;
        for (int b = 0; b < r.ports; b++)
            velocity += r.port_solve[(port * r.ports + b) * r.width + e] * r.port_past[b * r.width + e];
        r.port_velocity[port * r.width + e] = velocity;
    }
    __syncthreads();
    for (int k = thread; k < r.port_cells * here; k += threads) {
        int cell = k / here, e = e0 + k % here;
        size_t own = element(r, r.port_place[cell], e);
        real p_next = q[own] - from_ports(r, cell, e, r.port_velocity);
        move_faces(r, r.free_walls + cell, e, p[own], p_next);
        q[own] = p_next;
    }
    __syncthreads();
    for (int k = thread; k < r.ports * here; k += threads) move_port(r, odd, k / here, e0 + k % here);
}

// A sample of every cell into the Fourier sums (22).
extern "C" __global__ void add_to_maps(Room r, int odd, int ahead) {
    long long k = (long long)blockIdx.x * blockDim.x + threadIdx.x, number = r.cells * r.width;
    long long sample = (r.clock[0] + ahead) / r.stride;
    if (k >= number || sample >= r.samples) return;
    real p = now_of(r, odd)[element(r, r.place[k / r.width], k % r.width)];
    for (int f = 0; f < r.frequencies; f++) {
        r.map_real[f * number + k] += r.cosine[sample * r.frequencies + f] * p;
        r.map_imag[f * number + k] -= r.sine[sample * r.frequencies + f] * p;
    }
}

// Volume integral of squared pressure and of its squared change, in `STRENGTHS` parts.
extern "C" __global__ void add_strength(Room r, int odd, int) {
    const real *now = now_of(r, odd), *before = next_of(r, odd);
    long long first = (long long)blockIdx.x * blockDim.x + threadIdx.x, number = r.cells * r.width;
    double sum = 0;
    for (long long k = first; k < number; k += (long long)gridDim.x * blockDim.x) {
        size_t own = element(r, r.place[k / r.width], k % r.width);
        double p = now[own], change = (p - before[own]) * r.rate;
        sum += r.volume[k / r.width] * (p * p + change * change);
    }
    atomicAdd(r.strength + first % STRENGTHS, sum);
}

// The end of a batch of `count` steps.
extern "C" __global__ void tick(Room r, int, int count) {
    if (threadIdx.x == 0 && blockIdx.x == 0) *r.clock += count;
    int k = blockIdx.x * blockDim.x + threadIdx.x;
    if (k < STRENGTHS) r.strength[k] = 0;
}
