using OxyPlot;

namespace Cardassay.Collector.Report.Charts;

/// <summary>
/// Finds a free place beside each mark for its name. Works on the frame the axes will have to within a few units, which is enough to keep
/// names off each other and off the marks.
/// </summary>
internal sealed class LabelPlaces
{
    private const double Gap = 7;
    private const double LineHeight = 12;
    private const double PerCharacter = 6.2;

    private readonly List<OxyRect> _taken = [];

    /// <param name="marks">Centres of all marks, named or not, in user units.</param>
    /// <param name="line">Corners of a line names should keep off; may be empty.</param>
    public LabelPlaces(IEnumerable<ScreenPoint> marks, IReadOnlyList<ScreenPoint> line)
    {
        _taken.AddRange(marks.Select(m => new OxyRect(m.X - 4, m.Y - 4, 8, 8)));
        for (int i = 1; i < line.Count; i++)
        {
            _taken.Add(new OxyRect(new ScreenPoint(line[i - 1].X - 1, line[i - 1].Y - 1), new ScreenPoint(line[i].X + 1, line[i].Y + 1)));
        }
    }

    /// <summary>Offset and alignment of a name at its mark: right of it where there is room, else wherever the least is covered.</summary>
    /// <param name="mark">Centre of the mark.</param>
    /// <param name="text">The name.</param>
    /// <param name="width">Width of the frame in user units.</param>
    public (ScreenVector Offset, HorizontalAlignment Alignment) Place(ScreenPoint mark, string text, double width)
    {
        double length = text.Length * PerCharacter;
        (double Dx, double Dy)[] places = [(Gap, 0), (-Gap, 0), (Gap, -11), (Gap, 11), (-Gap, -11), (-Gap, 11), (Gap, -22), (Gap, 22),
            (-Gap, -22), (-Gap, 22)];
        (double dx, double dy) = places.MinBy(p => Covered(Box(p.Dx, p.Dy)));
        _taken.Add(Box(dx, dy));
        return (new ScreenVector(dx, dy), dx > 0 ? HorizontalAlignment.Left : HorizontalAlignment.Right);

        OxyRect Box(double x, double y) => new(x > 0 ? mark.X + x : mark.X + x - length, mark.Y + y - LineHeight / 2, length, LineHeight);

        double Covered(OxyRect box) =>
            _taken.Sum(
                t =>
                    Math.Max(0, Math.Min(t.Right, box.Right) - Math.Max(t.Left, box.Left)) * Math.Max(0,
                        Math.Min(t.Bottom, box.Bottom) - Math.Max(t.Top, box.Top)))
            + (box.Left < 0 || box.Right > width ? 1e6 : 0);
    }
}
