namespace Cardassay.Collector.Exchange.Publishing.Picture;

/// <summary>Something drawn on a picture; lengths in pixels from the upper left corner.</summary>
/// <param name="Colour">"#rrggbb".</param>
internal abstract record Shape(string Colour);

/// <summary>A line of text.</summary>
/// <param name="X">Its left end, or its right end where <paramref name="IsEnd"/>.</param>
/// <param name="Y">Its base line.</param>
/// <param name="Size">Height of the font.</param>
/// <param name="Text">The text.</param>
/// <param name="Colour">Colour.</param>
/// <param name="IsBold">True for bold.</param>
/// <param name="IsEnd">True when it ends at <paramref name="X"/>.</param>
internal sealed record Words(float X, float Y, float Size, string Text, string Colour, bool IsBold = false, bool IsEnd = false) : Shape(Colour);

/// <summary>A filled rectangle.</summary>
internal sealed record Box(float X, float Y, float Width, float Height, string Colour) : Shape(Colour);

/// <summary>A filled circle.</summary>
internal sealed record Dot(float X, float Y, float Radius, string Colour) : Shape(Colour);
