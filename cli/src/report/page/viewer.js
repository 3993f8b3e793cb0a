'use strict';
// Everything here is an addition: without it the tables, sums and still pictures can all be read.
(() => {
  const $ = (id) => document.getElementById(id);
  const body = document.body;

  // ---- units
  for (const radio of document.querySelectorAll('input[name=units]')) {
    radio.addEventListener('change', () => {
      body.classList.remove('show-us', 'show-metric', 'show-both');
      body.classList.add('show-' + radio.value);
    });
  }
  addEventListener('beforeprint', () => document.querySelectorAll('main details').forEach((d) => { d.open = true; }));

  const data = JSON.parse($('scene').textContent);

  // ---- the packed mesh
  async function unpack() {
    const packed = Uint8Array.from(atob($('mesh').textContent.trim()), (c) => c.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream('deflate-raw'));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  }
  function reader(bytes) {
    let at = 0;
    return {
      varint() {
        let value = 0, shift = 1, byte;
        do { byte = bytes[at++]; value += (byte & 127) * shift; shift *= 128; } while (byte > 127);
        return value % 2 ? -(value + 1) / 2 : value / 2;
      },
      bytes(n) { at += n; return bytes.subarray(at - n, at); },
    };
  }
  function decode(bytes) {
    const { vertices, triangles, low, step } = data;
    const read = reader(bytes);
    const corners = new Float32Array(3 * vertices);
    for (let axis = 0; axis < 3; axis++) {
      for (let v = 0, q = 0; v < vertices; v++) {
        q += read.varint();
        corners[3 * v + axis] = low[axis] + q * step;
      }
    }
    const position = new Float32Array(9 * triangles);
    for (let t = 0, first = 0; t < triangles; t++) {
      first += read.varint();
      const second = first + read.varint(), third = first + read.varint();
      [first, second, third].forEach((v, k) => {
        for (let axis = 0; axis < 3; axis++) position[9 * t + 3 * k + axis] = corners[3 * v + axis];
      });
    }
    const label = (name, wide) => {
      const lowBytes = read.bytes(triangles), highBytes = wide ? read.bytes(triangles) : null;
      return wide ? Uint16Array.from(lowBytes, (b, k) => b + 256 * highBytes[k]) : lowBytes;
    };
    const labels = {};
    for (const name of data.narrow) labels[name] = label(name);
    for (const name of data.wide) labels[name] = label(name, true);
    // A row speaks of a class or of coated and bare: that is what two of the colourings show.
    return { position, labels: { ...labels, class: labels.lean, state: labels.coated } };
  }

  // ---- patterns: the same rules as on the still pictures
  const PATTERN = `
    bool inked(int p, ivec2 at) {
      int x = at.x, y = at.y;
      if (p == 1) return x % 10 < 2 && (y + 5 * ((x / 10) % 2)) % 10 < 2;
      if (p == 2) return x % 10 < 2;
      if (p == 3) return (x + y) % 12 < 2;
      if (p == 4) return (x + y) % 12 < 2 || (x + 12000 - y) % 12 < 2;
      return false;
    }`;
  const inked = (p, x, y) => {
    switch (p) {
      case 1: return x % 10 < 2 && (y + 5 * (Math.floor(x / 10) % 2)) % 10 < 2;
      case 2: return x % 10 < 2;
      case 3: return (x + y) % 12 < 2;
      case 4: return (x + y) % 12 < 2 || (x + 12000 - y) % 12 < 2;
      default: return false;
    }
  };
  const MOST = 16;
  const VERTEX = `
    attribute float entry; attribute float glow;
    flat varying int vEntry; flat varying int vGlow; varying vec3 vRoom; varying vec3 vSeen;
    void main() {
      vEntry = int(entry + 0.5); vGlow = int(glow + 0.5); vRoom = position;
      vec4 seen = modelViewMatrix * vec4(position, 1.0); vSeen = seen.xyz;
      gl_Position = projectionMatrix * seen;
    }`;
  const FRAGMENT = `
    flat varying int vEntry; flat varying int vGlow; varying vec3 vRoom; varying vec3 vSeen;
    uniform vec3 tint[${MOST}]; uniform int pattern[${MOST}]; uniform vec4 cut; uniform bool cutting; uniform bool someGlow;
    ${PATTERN}
    void main() {
      if (cutting && dot(vRoom, cut.xyz) > cut.w) discard;
      vec3 n = normalize(cross(dFdx(vSeen), dFdy(vSeen)));
      float lit = max(dot(n, normalize(vec3(-0.4, 0.6, 1.0))), 0.0);
      vec3 base = tint[vEntry];
      vec3 colour = base * (0.60 + 0.40 * lit);
      float light = dot(pow(base, vec3(2.2)), vec3(0.2126, 0.7152, 0.0722));
      ivec2 at = ivec2(gl_FragCoord.xy);
      if (inked(pattern[vEntry], at)) colour = light < 0.18 ? base * 0.5 + 0.47 : base * 0.42;
      if (cutting && !gl_FrontFacing) colour = (at.x + at.y) % 6 < 3 ? vec3(0.25) : vec3(0.45);
      if (someGlow) colour = vGlow == 1 ? mix(colour, vec3(1.0, 0.95, 0.1), (at.x / 4 + at.y / 4) % 2 == 0 ? 0.85 : 0.45) : mix(colour, vec3(1.0), 0.55);
      gl_FragColor = vec4(colour, 1.0);
    }`;

  // ---- words for lengths
  const feetInches = (metres) => {
    const sixteenths = Math.round(Math.abs(metres) / 0.0254 * 16);
    const feet = Math.floor(sixteenths / 192), inches = Math.floor(sixteenths / 16) % 12;
    let part = sixteenths % 16, of = 16;
    while (part && part % 2 === 0) { part /= 2; of /= 2; }
    const words = [];
    if (feet) words.push(feet + ' ft');
    if (inches && part) words.push(`${inches}-${part}/${of} in`);
    else if (inches) words.push(inches + ' in');
    else if (part) words.push(`${part}/${of} in`);
    return words.join(' ') || '0 in';
  };
  const both = (metres) => `${feetInches(metres)} (${metres < 0.9995 ? Math.round(metres * 1000) + ' mm' : metres.toFixed(3) + ' m'})`;

  async function start() {
    const { position, labels } = decode(await unpack());
    const T = THREE;
    const canvas = $('view');
    const renderer = new T.WebGLRenderer({ canvas, antialias: true, preserveDrawingBuffer: true });
    renderer.setClearColor(0xffffff);
    const scene = new T.Scene();
    const camera = new T.PerspectiveCamera(35, 1, 0.02, 500);
    camera.up.set(0, 0, 1);
    const controls = new T.OrbitControls(camera, canvas);
    controls.zoomToCursor = true;

    const uniforms = {
      tint: { value: [] }, pattern: { value: new Array(MOST).fill(0) },
      cut: { value: new T.Vector4(0, 0, 1, 1e9) }, cutting: { value: false }, someGlow: { value: false },
    };
    const material = new T.ShaderMaterial({ uniforms, vertexShader: VERTEX, fragmentShader: FRAGMENT, side: T.DoubleSide });
    const geometry = (positions) => {
      const g = new T.BufferGeometry();
      const n = positions.length / 3;
      g.setAttribute('position', new T.BufferAttribute(positions, 3));
      g.setAttribute('entry', new T.BufferAttribute(new Uint8Array(n), 1));
      g.setAttribute('glow', new T.BufferAttribute(new Uint8Array(n), 1));
      return g;
    };
    const rock = new T.Mesh(geometry(position), material);
    const person = new T.Mesh(geometry(new Float32Array(data.figure)), material);
    person.geometry.attributes.entry.array.fill(MOST - 1);
    scene.add(rock, person);

    const [low, high] = [data.low, data.high].map((p) => new T.Vector3(...p));
    const box = (a, b) => [...Array(8).keys()].map((k) => new T.Vector3(...[0, 1, 2].map((i) => (k >> i & 1 ? b : a).getComponent(i))));
    person.geometry.computeBoundingBox();
    const stands = person.geometry.boundingBox, all = stands.clone().expandByPoint(low).expandByPoint(high);
    const corners = [...box(low, high), ...box(stands.min, stands.max)], centre = all.getCenter(new T.Vector3());
    const FOOT = 0.3048;
    const lines = [];
    const from = [0, 1].map((k) => Math.floor(low.getComponent(k) / FOOT) - 4);
    const to = [0, 1].map((k) => Math.ceil(high.getComponent(k) / FOOT) + 4);
    for (let x = from[0]; x <= to[0]; x++) lines.push(x, from[1], 0, x, to[1], 0);
    for (let y = from[1]; y <= to[1]; y++) lines.push(from[0], y, 0, to[0], y, 0);
    const floor = new T.BufferGeometry();
    floor.setAttribute('position', new T.BufferAttribute(new Float32Array(lines.map((v) => v * FOOT)), 3));
    floor.translate(0, 0, low.z - 0.002);
    scene.add(new T.LineSegments(floor, new T.LineBasicMaterial({ color: 0xb4b4b4 })));

    const tape = new T.BufferGeometry();
    tape.setAttribute('position', new T.BufferAttribute(new Float32Array(6), 3));
    const tapeLine = new T.LineSegments(tape, new T.LineBasicMaterial({ color: 0xd00000, depthTest: false }));
    tapeLine.visible = false;
    tapeLine.frustumCulled = false;
    tapeLine.renderOrder = 1;
    scene.add(tapeLine);

    const TAGGED = { lath: 'zones' };
    // ---- names of zones and numbers of changes, held on the picture
    const names = Object.entries(data.tags).flatMap(([of, tags]) => tags.map(({ name, at, out }) => {
      const tag = document.createElement('span');
      tag.className = 'tag';
      tag.textContent = name;
      $('tags').append(tag);
      return { tag, of, at: new T.Vector3(...at), out: new T.Vector3(...out) };
    }));
    const ray = new T.Raycaster();
    const inSight = (hit) => !uniforms.cutting.value || hit.point.dot(uniforms.cut.value) <= uniforms.cut.value.w;

    let waiting = false;
    const draw = () => {
      waiting = false;
      renderer.render(scene, camera);
      for (const { tag, of, at, out } of names) {
        const p = at.clone().project(camera);
        const turnedAway = out.dot(camera.position.clone().sub(at)) < 0;
        tag.hidden = p.z > 1 || turnedAway || (TAGGED[colouring] || colouring) !== of;
        tag.style.transform = `translate(${(p.x + 1) / 2 * canvas.clientWidth}px, ${(1 - p.y) / 2 * canvas.clientHeight}px) translate(-50%, -50%)`;
      }
    };
    const soon = () => { if (!waiting) { waiting = true; requestAnimationFrame(draw); } };
    const resize = () => {
      const { clientWidth: w, clientHeight: h } = canvas.parentElement;
      renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
      renderer.setSize(w, h, false);
      camera.aspect = w / h;
      camera.updateProjectionMatrix();
      soon();
    };
    controls.addEventListener('change', soon);

    // ---- views
    const look = (towards) => {
      // As near as every corner of the piece and of the figure stays in the picture, a twentieth left free.
      const out = new T.Vector3(...towards).normalize();
      const right = new T.Vector3().crossVectors(camera.up, out).normalize(), up = new T.Vector3().crossVectors(out, right);
      const tall = 0.95 * Math.tan(camera.fov * Math.PI / 360), wide = tall * camera.aspect;
      let distance = 0;
      for (const corner of corners) {
        const p = corner.clone().sub(centre);
        distance = Math.max(distance, Math.abs(p.dot(right)) / wide + p.dot(out), Math.abs(p.dot(up)) / tall + p.dot(out));
      }
      controls.target.copy(centre);
      camera.position.copy(centre).addScaledVector(out, distance);
      camera.near = distance / 200;
      camera.far = distance * 20;
      camera.updateProjectionMatrix();
      controls.update();
      soon();
    };
    const VIEWS = { front: [0, -1, 0.001], back: [0, 1, 0.001], left: [-1, 0, 0.001], right: [1, 0, 0.001], top: [0, -0.001, 1], 'three-quarter': [-0.576, -0.768, 0.28] };
    for (const button of document.querySelectorAll('[data-view]')) button.addEventListener('click', () => look(VIEWS[button.dataset.view]));

    // ---- colours
    let colouring = document.querySelector('input[name=colour]:checked').value;
    const swatch = (kind) => {
      const small = document.createElement('canvas');
      small.width = 44; small.height = 24;
      const pen = small.getContext('2d');
      const [r, g, b] = kind.rgb;
      pen.fillStyle = `rgb(${r},${g},${b})`;
      pen.fillRect(0, 0, 44, 24);
      const dark = [r, g, b].map((c) => (c / 255) ** 2.2).reduce((sum, c, k) => sum + c * [0.2126, 0.7152, 0.0722][k], 0) < 0.18;
      pen.fillStyle = dark ? `rgb(${[r, g, b].map((c) => c / 2 + 120).join()})` : `rgb(${[r, g, b].map((c) => c * 0.42).join()})`;
      for (let y = 0; y < 24; y++) for (let x = 0; x < 44; x++) if (inked(kind.pattern, x, y)) pen.fillRect(x, y, 1, 1);
      return small;
    };
    const paint = (name) => {
      colouring = name;
      const kinds = data.legends[name];
      const tint = kinds.map((kind) => new T.Vector3(...kind.rgb.map((c) => c / 255)));
      while (tint.length < MOST) tint.push(new T.Vector3(0.43, 0.43, 0.43));
      uniforms.tint.value = tint;
      uniforms.pattern.value = tint.map((_, k) => (kinds[k] ? kinds[k].pattern : 0));
      const entries = rock.geometry.attributes.entry;
      for (let t = 0; t < data.triangles; t++) entries.array.fill(labels[name][t], 3 * t, 3 * t + 3);
      entries.needsUpdate = true;
      const list = $('legend');
      list.replaceChildren(...kinds.filter((kind) => kind.name).map((kind) => {
        const item = document.createElement('li');
        item.append(swatch(kind), kind.name);
        return item;
      }));
      soon();
    };
    for (const radio of document.querySelectorAll('input[name=colour]')) radio.addEventListener('change', () => paint(radio.value));

    for (const link of document.querySelectorAll('a[data-show]')) {
      link.addEventListener('click', () => {
        document.querySelector(`input[name=colour][value=${link.dataset.show}]`).checked = true;
        paint(link.dataset.show);
      });
    }

    // ---- rows and faces light each other up
    const rows = [...document.querySelectorAll('tr[data-faces]')];
    let lit = null;
    const light = (mark) => {
      lit = lit === mark ? null : mark;
      const [kind, value] = (lit || ':').split(':');
      const glow = rock.geometry.attributes.glow;
      const values = labels[kind];
      for (let t = 0; t < data.triangles; t++) {
        const on = lit && values[t] === Number(value) && (kind !== 'zone' || labels.state[t] === 0);
        glow.array.fill(on ? 1 : 0, 3 * t, 3 * t + 3);
      }
      glow.needsUpdate = true;
      uniforms.someGlow.value = lit !== null;
      rows.forEach((row) => {
        const on = row.dataset.faces === lit;
        row.classList.toggle('lit', on);
        row.setAttribute('aria-selected', on);
      });
      const row = rows.find((r) => r.dataset.faces === lit);
      say(row ? row.innerText.split('\n')[0].replace(/\t/g, '  ') + ' is lit' : '');
      soon();
    };
    const say = (words) => { $('said').textContent = words; };
    for (const row of rows) {
      row.addEventListener('click', (event) => { if (!event.target.closest('details, a')) light(row.dataset.faces); });
      row.addEventListener('keydown', (event) => {
        if (event.target === row && (event.key === 'Enter' || event.key === ' ')) { event.preventDefault(); light(row.dataset.faces); }
      });
    }

    // ---- clicks on the picture
    let points = [], measuring = false;
    const hitAt = (event) => {
      const box = canvas.getBoundingClientRect();
      ray.setFromCamera(new T.Vector2((event.clientX - box.left) / box.width * 2 - 1, 1 - (event.clientY - box.top) / box.height * 2), camera);
      return ray.intersectObject(rock).find(inSight);
    };
    let down = null;
    canvas.addEventListener('pointerdown', (event) => { down = [event.clientX, event.clientY]; });
    canvas.addEventListener('pointerup', (event) => {
      if (!down || Math.hypot(event.clientX - down[0], event.clientY - down[1]) > 5) return;
      const hit = hitAt(event);
      if (!hit) { if (!measuring && lit) light(lit); return; }
      if (measuring) return measure(hit.point);
      const t = Math.floor(hit.faceIndex);
      const zone = 'zone:' + labels.zone[t];
      const marks = { zones: zone, lath: zone, lifts: zone, lean: 'class:' + labels.class[t], coated: 'state:' + labels.state[t], changes: labels.change && 'change:' + labels.change[t] };
      const mark = [marks[colouring], labels.state[t] ? 'state:' + labels.state[t] : 'class:' + labels.class[t]].find((m) => rows.some((r) => r.dataset.faces === m));
      if (mark && mark !== lit) {
        light(mark);
        rows.find((r) => r.dataset.faces === mark).scrollIntoView({ block: 'nearest' });
      }
    });
    const measure = (point) => {
      if (points.length === 2) points = [];
      points.push(point.clone());
      const [a, b] = [points[0], points[points.length - 1]];
      tape.attributes.position.array.set([a.x, a.y, a.z, b.x, b.y, b.z]);
      tape.attributes.position.needsUpdate = true;
      tapeLine.visible = points.length === 2;
      say(points.length === 1 ? 'Now the second point.' : `${both(a.distanceTo(b))}: ${both(Math.hypot(b.x - a.x, b.y - a.y))} level, ${both(Math.abs(b.z - a.z))} in height`);
      soon();
    };
    $('measure').addEventListener('click', () => {
      measuring = !measuring;
      $('measure').setAttribute('aria-pressed', measuring);
      points = [];
      tapeLine.visible = false;
      say(measuring ? 'Click two points on the piece.' : '');
      soon();
    });

    // ---- section
    const section = () => {
      const axis = Number($('cut-axis').value);
      uniforms.cutting.value = axis >= 0;
      $('cut-at').disabled = axis < 0;
      if (axis >= 0) {
        const share = Number($('cut-at').value) / 1000;
        const normal = [0, 0, 0];
        // Front to back takes the visitors' side away.
        const sign = axis === 1 ? -1 : 1;
        normal[axis] = sign;
        const at = low.getComponent(axis) + share * (high.getComponent(axis) - low.getComponent(axis));
        uniforms.cut.value.set(...normal, sign * at);
        $('cut-said').textContent = both(at - low.getComponent(axis));
      } else $('cut-said').textContent = '';
      soon();
    };
    $('cut-axis').addEventListener('change', section);
    $('cut-at').addEventListener('input', section);

    // ---- keys
    canvas.addEventListener('keydown', (event) => {
      const turn = { ArrowLeft: [-0.12, 0], ArrowRight: [0.12, 0], ArrowUp: [0, -0.12], ArrowDown: [0, 0.12] }[event.key];
      const zoom = { '+': 0.87, '=': 0.87, '-': 1.15 }[event.key];
      if (!turn && !zoom) return;
      event.preventDefault();
      const arm = camera.position.clone().sub(controls.target);
      if (zoom) arm.multiplyScalar(zoom);
      else {
        const length = arm.length(), round = Math.atan2(arm.y, arm.x) + turn[0];
        const rise = Math.min(Math.max(Math.acos(arm.z / length) + turn[1], 0.01), 3.13);
        arm.set(Math.sin(rise) * Math.cos(round), Math.sin(rise) * Math.sin(round), Math.cos(rise)).multiplyScalar(length);
      }
      camera.position.copy(controls.target).add(arm);
      controls.update();
      soon();
    });

    body.classList.add('gl');
    document.querySelector('.stills details').open = false;
    new ResizeObserver(resize).observe(canvas.parentElement);
    resize();
    paint(colouring);
    look(VIEWS['three-quarter']);
    draw();
    body.dataset.ready = 'yes';
  }

  start().catch((error) => {
    body.classList.remove('gl');
    body.dataset.ready = 'no';
    $('no-gl').textContent = 'The 3D view cannot be shown here (' + error.message + '); still pictures stand in for it.';
  });
})();
