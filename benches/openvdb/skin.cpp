// Skin volume of a closed mesh with OpenVDB: distance band by meshToVolume, then a quadrature of second order.
//
//   skin FILE.stl THICKNESS VOXEL [THREADS]      metres; binary STL
//
// Timed from the welded mesh in memory to the volume, as `ours.rs` is; `cpu` is the time of all threads in that.
#include <openvdb/openvdb.h>
#include <openvdb/tools/MeshToVolume.h>
#include <openvdb/tree/LeafManager.h>
#include <sys/resource.h>
#include <tbb/global_control.h>
#include <tbb/parallel_reduce.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <iterator>
#include <unordered_map>
#include <vector>

using openvdb::FloatGrid;
using openvdb::Vec3I;
using openvdb::Vec3s;

struct Key {
    std::array<uint32_t, 3> bits;
    bool operator==(const Key& o) const { return bits == o.bits; }
};
struct Hash {
    size_t operator()(const Key& k) const {
        uint64_t h = k.bits[0] * 0x9e3779b97f4a7c15ull ^ k.bits[1] * 0xbf58476d1ce4e5b9ull ^ k.bits[2] * 0x94d049bb133111ebull;
        return h ^ h >> 31;
    }
};

/// Part of the unit cube about the origin where normal . x <= height (R. Scardovelli and S. Zaleski, J. Comput. Phys. 164,
/// 2000): the same form that our own engine uses.
static double below(double x, double y, double z, double height) {
    double m[3] = {std::max(std::fabs(x), 1e-7), std::max(std::fabs(y), 1e-7), std::max(std::fabs(z), 1e-7)};
    std::sort(m, m + 3);
    const double sum = m[0] + m[1] + m[2];
    const double m1 = m[0] / sum, m2 = m[1] / sum, m3 = m[2] / sum, m12 = m1 + m2;
    const double level = height / sum + 0.5, a = std::min(level, 1.0 - level);
    if (a <= 0.0) return level > 0.5 ? 1.0 : 0.0;
    double v;
    if (a < m1) v = a * a * a / (6 * m1 * m2 * m3);
    else if (a < m2) v = a * (a - m1) / (2 * m2 * m3) + m1 * m1 / (6 * m2 * m3);
    else if (a < std::min(m12, m3)) v = (a * a * (3 * m12 - a) + m1 * m1 * (m1 - 3 * a) + m2 * m2 * (m2 - 3 * a)) / (6 * m1 * m2 * m3);
    else if (m3 < m12) v = (a * a * (3 - 2 * a) + m1 * m1 * (m1 - 3 * a) + m2 * m2 * (m2 - 3 * a) + m3 * m3 * (m3 - 3 * a)) / (6 * m1 * m2 * m3);
    else v = (2 * a - m12) / (2 * m3);
    return level > 0.5 ? 1.0 - v : v;
}

static double cpu_seconds() {
    rusage use{};
    getrusage(RUSAGE_SELF, &use);
    return use.ru_utime.tv_sec + use.ru_stime.tv_sec + 1e-6 * (use.ru_utime.tv_usec + use.ru_stime.tv_usec);
}

int main(int argc, char** argv) {
    if (argc < 4) return std::fprintf(stderr, "skin FILE.stl THICKNESS VOXEL [THREADS]\n"), 2;
    const double thickness = std::atof(argv[2]), voxel = std::atof(argv[3]);
    tbb::global_control threads(tbb::global_control::max_allowed_parallelism, argc > 4 ? std::atoi(argv[4]) : 2);
    openvdb::initialize();

    std::ifstream file(argv[1], std::ios::binary);
    const std::vector<char> bytes((std::istreambuf_iterator<char>(file)), {});
    uint32_t count = 0;
    if (bytes.size() < 84) return std::fprintf(stderr, "no binary STL\n"), 2;
    std::memcpy(&count, &bytes[80], 4);
    std::vector<Vec3s> points;
    std::vector<Vec3I> triangles(count);
    std::unordered_map<Key, uint32_t, Hash> known;
    known.reserve(count);
    for (uint32_t t = 0; t < count; ++t)
        for (int k = 0; k < 3; ++k) {
            float p[3];
            Key key;
            std::memcpy(p, &bytes[84 + 50 * size_t(t) + 12 + 12 * k], 12);
            for (float& c : p) c += 0.0f;
            std::memcpy(key.bits.data(), p, 12);
            const auto found = known.emplace(key, uint32_t(points.size()));
            if (found.second) points.emplace_back(p[0], p[1], p[2]);
            triangles[t][k] = found.first->second;
        }
    known.clear();

    const double cpu = cpu_seconds();
    const auto start = std::chrono::steady_clock::now();
    const auto transform = openvdb::math::Transform::createLinearTransform(voxel);
    std::vector<Vec3s> scaled(points);
    for (Vec3s& p : scaled) p /= float(voxel);
    const openvdb::tools::QuadAndTriangleDataAdapter<Vec3s, Vec3I> mesh(scaled, triangles);
    // Beyond both sides of the skin one voxel for the quadrature and one for its differences.
    const auto grid = openvdb::tools::meshToVolume<FloatGrid>(mesh, *transform, float(thickness / voxel) + 2.0f, 2.0f);
    const double t = thickness / voxel;
    const openvdb::tree::LeafManager<const openvdb::FloatTree> leaves(grid->tree());
    const double cells = tbb::parallel_deterministic_reduce(
        tbb::blocked_range<size_t>(0, leaves.leafCount(), 16), 0.0,
        [&](const tbb::blocked_range<size_t>& range, double sum) {
            auto at = grid->getConstAccessor();
            for (size_t i = range.begin(); i != range.end(); ++i)
                for (auto it = leaves.leaf(i).cbeginValueOn(); it; ++it) {
                    const double d = *it / voxel;
                    if (d < -0.87 || d > t + 0.87) continue;
                    if (d > 0.87 && d < t - 0.87) { sum += 1.0; continue; }
                    const openvdb::Coord c = it.getCoord();
                    double g[3];
                    for (int k = 0; k < 3; ++k) {
                        openvdb::Coord step(0, 0, 0);
                        step[k] = 1;
                        g[k] = at.getValue(c + step) - at.getValue(c - step);
                    }
                    const double norm = std::sqrt(g[0] * g[0] + g[1] * g[1] + g[2] * g[2]);
                    if (norm == 0.0) { sum += d > 0.0 && d <= t; continue; }
                    for (double& x : g) x /= norm;
                    sum += below(g[0], g[1], g[2], t - d) - below(g[0], g[1], g[2], -d);
                }
            return sum;
        },
        [](double a, double b) { return a + b; });
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    rusage use{};
    getrusage(RUSAGE_SELF, &use);
    std::printf("OpenVDB voxel %5.2f mm  volume %.6f m3  wall %6.2f s  cpu %6.2f s  %ld MB\n", 1e3 * voxel,
                cells * voxel * voxel * voxel, seconds, cpu_seconds() - cpu, use.ru_maxrss / 1024);
}
